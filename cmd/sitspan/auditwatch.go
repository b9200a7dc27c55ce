package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"

	"sitspan/cmd/sitspan/internal/audit/archive"
	"sitspan/cmd/sitspan/internal/words"
)

// auditWatch tells how far an audit is: by a bar on a terminal, by a line every
// now and then elsewhere.
type auditWatch struct {
	mu     sync.Mutex
	out    io.Writer
	bars   *mpb.Progress // nil where there is no terminal
	bar    *mpb.Bar
	beside atomic.Pointer[string] // what stands beside the bar, which must not ask for the lock
	now    archive.Progress
	begun  time.Time // of the stage
	before int       // done when it began
	spoken time.Time // of the last plain line
	lang   words.Lang
}

// plainEvery is how often a plain line is told.
const plainEvery = 15 * time.Second

func newAuditWatch(out io.Writer, lang words.Lang) *auditWatch {
	w := &auditWatch{out: out, lang: lang}
	if isTerminal(out) {
		w.bars = mpb.New(mpb.WithOutput(out), mpb.WithWidth(30), mpb.WithRefreshRate(200*time.Millisecond))
	}
	return w
}

// isTerminal says whether somebody is looking. /dev/null is a device, too, but nobody sits there.
func isTerminal(out io.Writer) bool {
	f, ok := out.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// show is told of every step.
func (w *auditWatch) show(p archive.Progress) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p.Stage != w.now.Stage {
		w.endBar()
		w.begun, w.before, w.spoken = time.Now(), p.Done, time.Now()
		if w.bars != nil && p.Total > 0 && p.Stage == "measuring" {
			w.bar = w.newBar(p)
		}
		if p.Stage == "measuring" {
			w.line(w.lang.Say("audit.watch.todo", words.Values{"total": p.Total, "done": p.Done}))
		}
	}
	w.now = p
	switch {
	case w.bar != nil:
		text := " " + w.pace() + "  " + w.counts(p)
		w.beside.Store(&text)
		w.bar.SetCurrent(int64(p.Done))
	case w.bars == nil && (time.Since(w.spoken) >= plainEvery ||
		(p.Stage == "measuring" && p.Done == p.Total && p.Done > w.before)):
		w.spoken = time.Now()
		w.line(w.progressLine())
	}
}

// newBar has the rate, the time left and the outcomes beside it.
func (w *auditWatch) newBar(p archive.Progress) *mpb.Bar {
	beside := decor.Any(func(decor.Statistics) string {
		if text := w.beside.Load(); text != nil {
			return *text
		}
		return ""
	})
	bar := w.bars.AddBar(int64(p.Total),
		mpb.PrependDecorators(decor.CountersNoUnit("%d/%d ")),
		mpb.AppendDecorators(beside))
	bar.SetCurrent(int64(p.Done))
	return bar
}

// pace is the rate and the time left, of this run.
func (w *auditWatch) pace() string {
	done := w.now.Done - w.before
	took := time.Since(w.begun)
	if done == 0 || took < time.Second {
		return "…"
	}
	left := time.Duration(float64(took) / float64(done) * float64(w.now.Total-w.now.Done))
	return w.lang.Say("audit.watch.pace",
		words.Values{"rate": float64(done) / took.Seconds(), "left": left.Round(time.Second)})
}

// counts are the outcomes in a line.
func (w *auditWatch) counts(p archive.Progress) string {
	return w.lang.Say("audit.watch.counts", words.Values{"measured": p.Measured, "review": p.Review,
		"refused": p.Refused, "failed": p.Failed, "ignored": p.Ignored})
}

func (w *auditWatch) progressLine() string {
	stage := words.Key("audit.stage." + strings.ReplaceAll(w.now.Stage, " ", "_"))
	v := words.Values{"stage": stage, "done": w.now.Done, "total": w.now.Total}
	if w.now.Stage != "measuring" {
		return w.lang.Say("audit.watch.line", v)
	}
	v["pace"], v["counts"] = w.pace(), w.counts(w.now)
	return w.lang.Say("audit.watch.measuring", v)
}

// say tells something beside the progress.
func (w *auditWatch) say(text string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.line(text)
}

// line writes above the bar, or plainly.
func (w *auditWatch) line(text string) {
	text = "sitspan: " + text + "\n"
	if w.bar != nil {
		if _, err := w.bars.Write([]byte(text)); err == nil {
			return
		}
	}
	fmt.Fprint(w.out, text)
}

// endBar leaves the bar as it stands.
func (w *auditWatch) endBar() {
	if w.bar != nil {
		bar := w.bar
		w.bar = nil
		bar.Abort(false)
		bar.Wait()
	}
}

// close takes the bar away, so that what follows is not written over.
func (w *auditWatch) close() {
	w.mu.Lock()
	w.endBar()
	w.mu.Unlock()
	if w.bars != nil {
		w.bars.Wait()
	}
}
