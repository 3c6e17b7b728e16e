package webtest

import (
	"testing"

	"benchleaf/internal/record"
)

// One types 36 pages and sees 9 sheets before saving, touches a sheet in the drawing,
// says two things of it at once, and goes through the object leaf by leaf.
func TestMakeUpByTouch(t *testing.T) {
	b := newBench(t)
	id := b.newCase()
	base := "/cases/" + string(id)
	p := b.open(tablet, base+"/make-up")
	p.as("KM")
	p.fill("Or inner pages", "8")
	p.see("8 pages make 2 inner sheets.")
	if n := eval[int](p, `document.querySelectorAll("[data-preview-into] .of-sheet, [data-preview-into] path").length`); n < 6 {
		t.Errorf("the sheets are drawn with %d strokes before they are saved, want the six leaves at least", n)
	}
	if b.theCase(id).MakeUp != nil {
		t.Error("looking has saved the make-up")
	}
	p.axe()
	p.choose("Held by", "stapled through the fold")
	p.press("Separate cover sheet")

	// The drawing itself leads to the sheet that is touched.
	p.run(`document.querySelectorAll(".drawn a")[1].dispatchEvent(new MouseEvent("click", {bubbles: true, cancelable: true}))`)
	p.until("the sheet is shown", `document.querySelector("#on-head")?.textContent === "Sheet 1"`)
	p.touch("How it was found")
	p.choose("Held", "loose")
	p.choose("From another copy", "both leaves")
	p.fill("Judged by", "lighter paper than its neighbours")
	p.press("Record it")
	p.see("loose; both leaves from another copy")
	st := b.theCase(id).SheetStates[1].Body
	if st.Hold != record.HoldLoose || st.Married != record.LeafBoth {
		t.Errorf("recorded: %+v", st)
	}
	p.axe()

	p.goTo(base + "/collate")
	p.axe()
	for range 5 {
		p.press("Yes")
	}
	p.press("No")
	p.see("Not in order")
	p.see("The inside back and the back")
	p.choose("When", "on arrival")
	p.axe()
	p.press("Record the collation")
	if k := b.theCase(id).Collations; len(k) != 1 || k[0].Body.InOrder || len(k[0].Body.Found) != 5 {
		t.Errorf("the collation: %+v", k)
	}
}

// Positions and works are put on a face by their figures, on tablet and phone.
func TestPlacesOnAFace(t *testing.T) {
	b := newBench(t)
	c := b.sheetCase()
	base := "/cases/" + string(c.ID)
	p := b.open(tablet, base+"/places")
	p.as("KM")
	p.touch("Mark a position")
	p.choose("Sheet", "Sheet 1")
	p.choose("Face", "outer face")
	p.fill("From the left edge", "200")
	p.fill("From the head", "30")
	p.press("Mark it")
	p.see("Position 1, p. 1: 30 mm from the fold, 30 mm below the head")
	p.touch("Place a work")
	p.choose("What was done", "fill")
	p.choose("On the sheet", "Sheet 1")
	p.choose("On the face", "outer face")
	p.fill("Drawn, in mm", "box 0,240 25,262")
	p.fill("With what, in full", "kozo tissue, toned")
	p.choose("Can it be undone", "can be undone with water")
	p.press("Place it")
	p.see("at the corner of tail and fore-edge")
	p.axe()
	b.open(phone, base+"/places").axe()
	b.open(phone, base+"/make-up").axe()
}
