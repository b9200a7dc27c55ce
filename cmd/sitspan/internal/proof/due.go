package proof

import "time"

// Setting is what a check holds for.
type Setting struct {
	Pad, Phone string
	Print      string // the print's verification, as one text; empty for none
}

// Reason is why a new check is due.
type Reason string

// The reasons, the first that holds.
const (
	NotDue   Reason = ""
	Never    Reason = "never"
	NewPrint Reason = "new_print"
	NewPad   Reason = "new_pad"
	NewPhone Reason = "new_phone"
	Old      Reason = "old"
)

// goodFor is how long a check holds: half a year (assumed; pads age and phones are updated).
const goodFor = 183 * 24 * time.Hour

// Due tells whether a check is due for a setting, by the last one of each setting; at and of go together.
func Due(at []time.Time, of []Setting, s Setting, now time.Time) Reason {
	var latest time.Time
	print, pad, phone := false, false, false
	for i, o := range of {
		print = print || o.Print == s.Print
		pad = pad || o.Print == s.Print && o.Pad == s.Pad
		phone = phone || o.Phone == s.Phone || s.Phone == ""
		if o.Print == s.Print && o.Pad == s.Pad && (o.Phone == s.Phone || s.Phone == "") && at[i].After(latest) {
			latest = at[i]
		}
	}
	switch {
	case len(of) == 0:
		return Never
	case !print:
		return NewPrint
	case !pad:
		return NewPad
	case !phone || latest.IsZero():
		return NewPhone
	case now.Sub(latest) > goodFor:
		return Old
	}
	return NotDue
}

// DueOf is Due by checks as the shop kept them; those that do not count prove nothing.
func DueOf(list []Kept, s Setting, now time.Time) Reason {
	var at []time.Time
	var of []Setting
	for _, k := range list {
		if k.Counts {
			at, of = append(at, k.MadeAt), append(of, k.Of)
		}
	}
	return Due(at, of, s, now)
}
