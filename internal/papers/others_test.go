package papers

import (
	"strings"
	"testing"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

func says(t *testing.T, pdf []byte, facts ...string) {
	t.Helper()
	got := wordsOf(t, pdf)
	for _, want := range facts {
		if !strings.Contains(got, want) {
			t.Errorf("the paper does not say %q", want)
		}
	}
	if t.Failed() {
		t.Log(got)
	}
}

func TestProposalHoldsWhatItMust(t *testing.T) {
	st, _, _ := testStudio(t)
	pdf, err := Proposal(richCase(t), st, 0, Options{})
	must(t, pdf, err)
	sound(t, pdf)
	says(
		t,
		pdf,
		"Proposal for treatment, version 2",
		"For Žofie Ångström (demo) Date 2 March 2026 Valid until 1 May 2026 Prepared by Karla Muster (KM)",
		"from the version before: option B added",
		"Acid newsprint with a tide line and a long tear.",
		"“Make it safe to read, please, not new.”",
		"does the ink hold: red of the cover cover alkaline water, lime water 0.4 g/L 2: visible transfer",
		"Washing sheets 1 to 6 three baths soluble acid 2.5 6.50",
		"Lime bath sheets 1 to 6 alkaline reserve 1.25 1.50",
		"Putting back in order whole object 0.75",
		// 5.5 h at 85.00 = 467.50; with 8.00 of materials 475.50; 19 % of it 90.345
		"Work, 5.5 h at EUR 85.00 EUR 467.50 Materials EUR 8.00 Net EUR 475.50 Tax, 19 % EUR 90.35 Total EUR 565.85",
		"Work, 1 h at EUR 85.00 EUR 85.00 Up to the minimum fee of EUR 120.00 EUR 35.00 Net EUR 120.00 Tax, 19 % "+
			"EUR 22.80 Total EUR 142.80",
		"pH 7.9 to 8.9",
		"A dry work only 1 EUR 142.80",
		"Washing cannot be undone.",
		"Doing nothing: it goes on to brown.",
		"60 days from the date of this paper, to 1 May 2026.",
		"I consent to option A: dry work only, EUR 142.80",
		"I consent to option B: washing and lime, EUR 565.85",
		"I do not wish the object to be treated.",
		"Name and signature of the owner",
		"Place and date",
	)

	first, err := Proposal(richCase(t), st, 1, Options{})
	must(t, first, err)
	says(t, first, "Proposal for treatment, version 1", "None beyond handling.")
	for _, v := range []int{-1, 3} {
		if _, err := Proposal(richCase(t), st, v, Options{}); err == nil ||
			!strings.Contains(err.Error(), "it has 2\u00a0versions") {
			t.Errorf("version %d gives %v", v, err)
		}
	}
	if _, err := Proposal(record.Fold(nil), st, 0, Options{}); err == nil {
		t.Error("a case without a proposal gave one")
	}
}

func TestLabelsHoldWhatTheyMust(t *testing.T) {
	st, lime, hydride := testStudio(t)
	pdf, err := Labels(st, []string{lime, hydride, lime, lime, lime, lime, lime, lime, lime}, Options{})
	must(t, pdf, err)
	sound(t, pdf)
	if n := len(pages(t, pdf)); n != 2 {
		t.Errorf("nine labels take %d pages, want 2 of 8 each", n)
	}
	says(
		t,
		pdf,
		"Lime water, working calcium hydroxide 0.40 g/L (0.37 to 0.43) Made 2 March 2026 by KM · 1500 mL · lot L-17 "+
			"Use by 9 March 2026: takes up carbon dioxide from the air",
		"Caustic: goggles and gloves.",
		"It clouds with hard water.",
		"Danger",
		"H318 Causes serious eye damage.",
		"P280",
		"P305+P351+P338",
		"The data sheet decides",
		"bottle "+lime,
		"sodium borohydride 1.0 % w/v (0.9 to 1.1)",
		"Gives off hydrogen: never close it.",
		"H360FD May damage fertility.",
		"No date of expiry",
	)
	got := wordsOf(t, pdf)
	if strings.Contains(got, "H260") || strings.Contains(got, "P223") {
		t.Error("the label of a solution in water says what holds for the dry substance alone")
	}
	if n := strings.Count(got, "Lime water, working"); n != 8 {
		t.Errorf("%d labels of lime water, want 8", n)
	}
	if _, err := Labels(st, nil, Options{}); err == nil {
		t.Error("no bottle gave labels")
	}
	if _, err := Labels(st, []string{"0000000000000000"}, Options{}); err == nil ||
		!strings.Contains(err.Error(), "0000000000000000") {
		t.Errorf("an unknown bottle gives %v", err)
	}
}

func TestLabelsOfAbsurdBottles(t *testing.T) {
	j := newJournal(t, record.StudioID)
	long := strings.Repeat("Überlanges ", 27)
	var ids []string
	for _, unit := range []string{"g/L", "parts", "pure", "mol/L"} {
		id := j.newID()
		ids = append(ids, id)
		b := record.Bottle{
			ID:          id,
			Name:        strings.ReplaceAll(long, " ", ""),
			Substance:   long,
			Form:        "solid",
			Unit:        unit,
			MassG:       1,
			MadeAt:      evening,
			ExpiryBasis: long,
			Cautions:    []string{long, long},
			Lot:         long,
		}
		if unit != "pure" {
			b.Strength = &record.Range{Low: 0, Best: 20, High: 2000}
		}
		j.add(b)
	}
	pdf, err := Labels(record.FoldStudio(j.entries), ids, Options{Size: "Letter"})
	must(t, pdf, err)
	sound(t, pdf)
	says(
		t,
		pdf,
		"more in the bottle’s record",
		"Hazards: not in the program’s table",
		"bottle "+ids[0],
		"bottle "+ids[3],
	)
}

// The label of lime that hard water has clouded gives what is left, and says so.
func TestLabelOfACloudedBottle(t *testing.T) {
	j := newJournal(t, record.StudioID)
	b := record.Bottle{
		ID: j.newID(), Name: "lime water 0.25 g/L, clouded", Substance: "calcium hydroxide", Form: "solution", Unit: "g/L",
		Strength: &record.Range{Low: 0.21, Best: 0.25, High: 0.27}, Poured: &record.Range{Low: 0.37, Best: 0.4, High: 0.43},
		VolumeMl: 1500, MadeAt: evening,
	}
	j.add(b)
	pdf, err := Labels(record.FoldStudio(j.entries), []string{b.ID}, Options{})
	must(t, pdf, err)
	says(t, pdf, "0.25 g/L (0.21 to 0.27), left, clouded")
	j.add(record.BottleChecked{
		Bottle: b.ID, Strength: &record.Range{Low: 0.29, Best: 0.3, High: 0.31}, How: "titrated", At: evening,
	})
	pdf, err = Labels(record.FoldStudio(j.entries), []string{b.ID}, Options{})
	must(t, pdf, err)
	if got := wordsOf(t, pdf); strings.Contains(got, "left, clouded") {
		t.Errorf("titrated since, the label says %q", got)
	}
}

func TestInvoiceHoldsWhatItMust(t *testing.T) {
	st, _, _ := testStudio(t)
	c := richCase(t)
	b, err := account.BillFor(c)
	if err != nil {
		t.Fatal(err)
	}
	b.Number, b.PaidMinor, b.PayBy, b.PayTo = "R-2026-7", 10000, time.Date(
		2026,
		4,
		10,
		12,
		0,
		0,
		0,
		time.UTC,
	), "Account 000 (invented)"
	pdf, err := Invoice(c, st, b, Options{})
	must(t, pdf, err)
	sound(t, pdf)
	says(
		t,
		pdf,
		"Invoice R-2026-7",
		"To Žofie Ångström (demo) owner@house.example",
		"option B of version 2 of the proposal",
		"Washing, sheets 1 to 6 2.5 212.50",
		"Lime bath, sheets 1 to 6 1.25 106.25",
		"Mending while damp, sheets 2 to 4 1 85.00",
		"Putting back in order, whole object 0.75 63.75",
		"Materials 8.00",
		"Net EUR 475.50",
		"Tax, 19 % EUR 90.35",
		"Total EUR 565.85",
		"Paid before EUR −100.00",
		"To pay EUR 465.85",
		"Due by 10 April 2026. Account 000 (invented)",
	)
	if _, err := Invoice(c, st, account.Bill{Currency: "EUR"}, Options{}); err == nil ||
		!strings.Contains(err.Error(), "no lines") {
		t.Errorf("an empty bill gives %v", err)
	}
	if _, err := Invoice(c, st, account.Bill{Lines: []account.BillLine{{Text: "x"}}}, Options{}); err == nil ||
		!strings.Contains(err.Error(), "currency") {
		t.Errorf("a bill without currency gives %v", err)
	}
	if _, err := account.BillFor(record.Fold(nil)); err == nil {
		t.Error("a case without consent gave a bill")
	}
}
