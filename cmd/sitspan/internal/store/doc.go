// Package store keeps a shop's riders, visits, photos and records in one data
// folder: one SQLite file, and the photos beside it, named by their SHA-256.
//
//	sitspan.db          riders, visits, bikes, records, reviews, sheets; checks
//	photos/HASH.jpg     the photos, with what measuring needs
//	incoming/           uploads on their way; swept when the store opens, but parts of a photo of this day
//	desk.lock           held by the desk that has the folder open
//	files.lock          held for a moment by whoever changes photos' files
//	backups/            what was there before a back-up was put in its place
//
// Its opinion: what was confirmed is on the disk. A photo's file is flushed and
// renamed before its row is committed, and a commit is flushed before the call
// returns, so that pulling the plug costs only what nobody was told is kept. A
// record's row is never changed: a review is a row of its own beside it. And a
// rider who is deleted is gone: rows, photos and sheets, the freed pages
// overwritten.
package store
