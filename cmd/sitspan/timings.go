package main

import (
	"context"
	"time"

	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/stages"
)

// timings are the clock of one measurement, where --timings asks for it.
type timings struct {
	clock stages.Clock
	start time.Time
}

// timed is the context of a measurement, and its clock; nil where nobody asks.
func timed(ctx context.Context, asked bool) (context.Context, *timings) {
	if !asked {
		return ctx, nil
	}
	t := &timings{start: time.Now()}
	return stages.With(ctx, &t.clock), t
}

// tell says on standard error how long each stage took. A stage that was not gone through is left out.
func (t *timings) tell(p *program, lang words.Lang) {
	if t == nil {
		return
	}
	all := time.Since(t.start)
	ms := func(d time.Duration) string { return lang.Number(float64(d.Microseconds())/1000, 1) }
	for _, s := range stages.All {
		if d, gone := t.clock.Took(s); gone {
			p.say(lang.Say("terminal.timing", words.Values{"ms": ms(d), "stage": lang.Text("timing." + string(s))}))
		}
	}
	p.say(lang.Say("terminal.timing", words.Values{"ms": ms(all), "stage": lang.Text("timing.all")}))
}
