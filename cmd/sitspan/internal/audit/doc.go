// Package audit measures a folder of old imprints again and says which of the
// old numbers hold: how far the old way was off, by whom and since when, and
// which riders to call back.
//
// It ties its three rooms: archive measures and keeps, statistics compares, report
// tells. What may live here: the order of the steps, and which reading and which
// saddle belong to which file. What may not: walking, formulas, words.
//
// Its opinion:
//
//   - Nothing is dropped in silence: every file is a row, and the tally closes:
//     files = measured + review + refused + failed + duplicates + ignored.
//   - A picture counts once, however often it was copied or saved again.
//   - The answer depends on the files, the settings and the version, never on the
//     order or the number of workers. What is written while it runs is a journal
//     of what was measured; all that is counted is counted from it afterwards, in
//     the order of the names, so that a run that was stopped, or spread over
//     machines, ends with the same bytes.
//   - Memory does not grow with the files. What is known of each lies on the disk,
//     as lines of JSON; what must be looked up is sorted there (archive.Table) and
//     read beside what asks for it. Only what a person typed, the readings, and
//     pictures saved again are kept in memory.
//   - An old reading is compared, not corrected: outliers are named and stay in.
//   - The interval of a bias says both how much the differences scatter and what
//     all new measurements have in common, since no number of files averages a
//     scanner's wrong resolution away.
package audit
