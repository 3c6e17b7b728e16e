// Package web is benchleaf in the browser: it reads forms, asks the store, and
// shows pages. No rule of the domain is decided here, and nothing is computed:
// package record refuses, package account says what a case means, and a page
// shows what they say.
//
// A page is a template with the type of what it shows; a view binds the two.
// An act is a form that is sent: it makes bodies of entries, the store accepts
// or refuses them, and the browser goes on to a page that says so, or gets the
// same page again with what was typed and the sentence at its field. The spine
// is the list of a case's places in the order of the work. A writer is the
// person whose initials the device was last given.
//
// A plain act, which writes one body as its form has it, is a row in acts.go;
// an act that does more has a handler beside its page. Each page has a template
// of the same name as its view. docs/look.md shows the parts that pages are made
// of.
package web

//go:generate go run ./ui/build
