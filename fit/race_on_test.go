//go:build race

package fit

const raceEnabled = true
