// Package record holds the case: what may be written in its journal, the rules
// that a writing must keep, and the fold that turns a journal into a case.
//
// An entry is one line of a journal. A body is the typed content of an entry;
// its kind and version say which type. A correction is an entry that names an
// earlier one and takes its place in the fold; a withdrawal names one and
// voids it. Nothing is changed or deleted, and both stay visible in the log.
//
// The fold is pure and total: the same journal always gives the same case, and
// any journal gives one. A rule that an entry breaks against the case around it
// (a run that was never started, a sheet that the make-up does not have) is
// kept as a Problem. Admit runs the fold with a draft at its end and refuses
// the draft when that makes a new problem: so the rules stand in one place, and
// hold for corrections and withdrawals as they do for first entries.
//
// Package record knows no storage, no HTTP and no chemistry.
package record
