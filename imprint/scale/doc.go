// Package scale turns pixels into millimetres: by the printed frame, a scan's stated resolution, a card, a
// rule, or points that a person set.
//
// Its opinion: a scale says what it adds to the budget (Scale.Lines), and is judged before anything is
// measured by it. A frame that is there and cannot be read is never passed over for another scale.
//
// What may live here: finding a scale, judging it, its budget lines. What may not: dents, marks on paper, a
// width.
package scale
