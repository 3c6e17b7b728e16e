// Package colour turns picture values into colour as a standard observer sees
// it, and colour into differences that can be compared.
//
// Words used here. Device values are the red, green and blue (or grey) numbers
// of a picture, 0 to 1. A profile says what they mean. XYZ are CIE 1931
// tristimulus values relative to the D50 white of the ICC profile connection
// space, Y = 1 for that white. Lab is CIELAB under the same white. A dE is a
// colour difference: 76, 94 or 2000 after the year of its formula. A patch is
// one field of a colour chart; a fit maps the camera's linear values of the
// patches to their published XYZ.
//
// The package knows pixels and patches, not pictures: finding a chart or a
// sheet is package photo's work.
package colour
