// Package framewords gives the printed frame its texts in a language: for the terminal and for the desk
// alike.
package framewords

import (
	"fmt"
	"strings"

	"sitspan/calibration/artwork"
	"sitspan/cmd/sitspan/internal/words"
)

// Of are the frame's printed texts in a language.
func Of(lang words.Lang) artwork.Words {
	text := func(key string) string { return lang.Text("frame." + key) }
	w := artwork.Words{
		Lang:      string(lang),
		Title:     text("title"),
		Front:     text("front"),
		FrontNote: text("front_note"),
		Left:      text("left"),
		Right:     text("right"),
		SideNote:  text("side_note"),
		Bar:       text("bar"),
		Version:   text("version"),
		Foam:      text("foam"),
		Paper:     text("paper"),
		TrueSize:  text("true_size"),
		Measure:   strings.Split(text("measure"), "\n"),
		ReadingX:  text("reading_x"),
		ReadingY:  text("reading_y"),
		Dated:     text("dated"),
		Enter:     text("enter"),
		Anew:      text("anew"),
		Where:     artwork.English().Where, // a command is the same in every language
		CutTitle:  text("cut_title"),
	}
	w.Dots = func(sheet, of int) string {
		return lang.Say("frame.dots.title",
			words.Values{"n": sheet, "of": of})
	}
	w.DotsLine = text("dots.line")
	for step := range 6 {
		w.CutSteps = append(w.CutSteps, strings.Split(text(fmt.Sprintf("cut.%d", step+1)), "\n"))
	}
	return w
}

// AtDesk are the texts of a frame that is printed from the desk: the readings are typed there.
func AtDesk(lang words.Lang) artwork.Words {
	w := Of(lang)
	w.Where = [2]string(strings.Split(lang.Text("frame.where"), "\n"))
	w.CutSteps[2] = strings.Split(lang.Text("frame.cut.desk"), "\n")
	return w
}
