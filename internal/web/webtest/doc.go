// Package webtest drives the real pages in a real browser, as a person would:
// by the labels of fields and the words on buttons.
//
// Everything in it is test code, so that the program never carries a browser's
// driver. A new test is a file beside harness_test.go:
//
//	func TestLogAReading(t *testing.T) {
//		b := newBench(t)
//		tab := b.open(tablet, "/cases/"+id+"/bench")
//		tab.fill("pH", "7.9")
//		tab.press("Save the reading")
//		tab.see("pH 7.9")
//		tab.axe()
//		tab.shot("reading")
//	}
//
// A tab fails its test for every error on its console and every breach of the
// content security policy. Tests skip where there is no Chromium, unless
// BENCHLEAF_BROWSER=required; BENCHLEAF_SHOTS names a folder for screenshots.
package webtest
