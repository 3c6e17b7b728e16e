package solution

import "testing"

func TestHazardWording(t *testing.T) {
	h := find(t, "ethanol").HazardOf()
	if h == nil || h.SignalWord != "Danger" ||
		h.Statements[0] != (Statement{"H225", "Highly flammable liquid and vapour."}) {
		t.Errorf("ethanol: got %+v", h)
	}
	if h := find(t, "calcium carbonate").HazardOf(); h == nil || len(h.Classes) != 0 {
		t.Errorf("calcium carbonate: got %+v, want it known and not classified", h)
	}
	if h := find(t, "methyl cellulose").HazardOf(); h != nil {
		t.Errorf("methyl cellulose: got %+v, want it unknown", h)
	}
}
