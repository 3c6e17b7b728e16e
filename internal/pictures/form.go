package pictures

import "strconv"

// What package photo measures on two small drawings, as a digest: for each form
// in which comparisons, and stains, were measured, oldest first; "" where none was
// taken. A test measures again: when package photo gives other numbers, it says
// what to append, and all that the cache holds of the forms before is made anew.
var (
	compareForms = []string{"", "", "e4c2bfe6"}
	stainForms   = []string{"", "", "6bc8a168"}
)

// CompareForm numbers the present form of comparisons. It is part of what the
// cache and the record say, and of the addresses of tiles, which browsers keep for
// ever.
var CompareForm = strconv.Itoa(len(compareForms) - 1)

// compareMethod names it in the record.
var compareMethod = "compare " + CompareForm

// stainsName is what the cache keeps of the stains found on a photograph.
var stainsName = "stains-" + strconv.Itoa(len(stainForms)-1) + "-" + stainForms[len(stainForms)-1] + ".json"
