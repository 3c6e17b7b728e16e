package account

import (
	"context"
	"fmt"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/interval"
	"benchleaf/paper"
)

// asked is all that an answer to a trial depends on.
type asked struct {
	Trial    treatment.Trial
	Lignin   string
	Sheet    paper.Sheet
	Rate     *interval.Range
	Had      []paper.Bath
	Dried    bool
	Question any
}

func (x *Trial) asked(question any) asked {
	return asked{x.Trial, x.Lignin, x.sheet, x.rate, x.had, x.dried, question}
}

// Water works the trial out, or gives what is kept of it. It ends early, with ctx's
// error, when nobody waits for it any more; another error says why it cannot be
// calculated.
func (x *Trial) Water(ctx context.Context, quick bool) (*Water, error) {
	return treatment.Keep(ctx, "water", x.asked(quick), func(ctx context.Context) (*Water, error) {
		return x.water(ctx, quick)
	})
}

// Ageing answers q, or gives what is kept of it. Errors: ctx's, or why it cannot be
// calculated.
func (x *Trial) Ageing(ctx context.Context, q AgeingQuestion) (*Ageing, error) {
	_, from := phBefore(x.of, x.n)
	inputs := struct {
		Asked asked
		From  string
	}{x.asked(q), from}
	return treatment.Keep(ctx, "ageing", inputs, func(ctx context.Context) (*Ageing, error) {
		return x.ageing(ctx, q)
	})
}

// AnswerOf is what a trial answers to a question, or what is kept of it; what cannot be is
// said at its field. The answer depends on the trial and the question alone. Error:
// ctx's when nobody waits any more.
func AnswerOf[Q, A any](
	ctx context.Context, x *Trial, q Q, answer func(q Q) (*A, []*record.Invalid),
) (*A, []*record.Invalid, error) {
	type told struct {
		answer  *A
		refused []*record.Invalid
	}
	t, err := treatment.Keep(ctx, fmt.Sprintf("%T", q), x.asked(q), func(ctx context.Context) (told, error) {
		done, err := treatment.Turn(ctx)
		if err != nil {
			return told{}, err
		}
		defer done()
		a, refused := answer(q)
		return told{a, refused}, nil
	})
	return t.answer, t.refused, err
}
