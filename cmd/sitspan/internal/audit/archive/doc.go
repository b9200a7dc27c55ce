// Package archive measures the pictures of a folder and keeps what came of each:
// listing, contents, journal, records, duplicates, shards and their joining.
//
// What may live here: files and folders, what is resumed, and measuring, which is
// the caller's: a Bench gives it hands (see package worker). What may not: old
// readings, statistics, widths and reports; a picture's pixels never come here.
package archive
