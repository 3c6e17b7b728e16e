// Package pictures makes what is derived from the photographs of a store: sizes
// for the screen and for print, tiles, comparisons of a face before and after,
// stains found, regions measured, colours set. All of it is made in the
// background, each thing once, kept in the store's cache, and made anew where the
// cache has lost it or holds what an earlier form of package photo measured.
//
// It knows neither HTTP nor HTML: screens, papers and commands ask it and show
// what it says. Every wait takes a context.
package pictures
