// Package report is what an audit leaves for people and programs to read: rows as
// CSV and JSON, the statistics, and a page with plots, lists and a contact sheet.
//
// What may live here: rows, counting them, plots, and words, which are all in
// words.go and the page's template. What may not: measuring, walking folders, and
// formulas; a number comes from package statistics or from a record.
package report
