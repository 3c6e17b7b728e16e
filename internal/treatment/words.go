package treatment

import "benchleaf/internal/words"

// en is the language of the gates' and plans' sentences.
const en = words.English

var (
	upper  = en.Upper
	plural = en.Plural
)
