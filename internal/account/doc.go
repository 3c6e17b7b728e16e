// Package account says what a case means: from the folded case and the studio
// to facts that need no more thought to be shown. A fact is worked out here,
// once, and screen, paper and command line show the same one. The answers that
// need no case (a mix, a water, a bath, a drying) come from here in the same
// kinds of fact.
//
// It is pure, and knows neither HTML nor PDF nor storage. Package words says how
// a fact is written.
package account
