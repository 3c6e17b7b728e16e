// Package photo makes photographs of one sheet comparable.
//
// Words used here. A picture is a file; an Image is its upright pixels with the
// profile that says what they mean. The sheet is the paper in the picture, its
// face what is seen of it, the ground what lies round it. Pixels are counted
// from the middle of the upper left pixel, x to the right, y down. The mask of
// print is where ink lies; paper is what is left of the face. A region is a
// stained or lost part of the face with its outline.
//
// The package reads pictures and measures them. It keeps no files, knows no
// cases, and prints sentences only where a picture is refused or doubted.
package photo
