// Package papers sets the papers that leave the studio as PDF: the treatment
// report, the proposal, the labels of bottles and the invoice.
//
// A paper is a pure function of folded journals and options: the same input
// gives the same bytes. A block is a piece of a paper that is set down the
// page: a heading, a paragraph, a table. A span is text in one style. A face is
// one font file.
//
// The files are tagged and claim PDF/A-2a (ISO 19005-2): fonts embedded as
// subsets, text that can be read out and searched, no link to the outside. The
// library folio writes the PDF; this package composes the pages, since the
// library does not keep a heading with its text, nor a row that is higher than
// a page.
//
// The typeface is Source Serif 4, which covers Latin, Greek and Cyrillic. A
// character that it does not have, say of a Chinese name, is shown as its code,
// [U+6F22], and named in a note at the end of the paper; none is dropped but
// those that have no form by nature, such as soft hyphens and direction marks.
package papers
