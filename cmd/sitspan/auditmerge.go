package main

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/audit"
)

func (p *program) auditMergeCommand() *cobra.Command {
	f := &reviewFlags{}
	cmd := &cobra.Command{
		Use:  "merge",
		RunE: func(cmd *cobra.Command, args []string) error { return p.auditMerge(cmd, f, args) },
	}
	f.register(cmd)
	return cmd
}

func (p *program) auditMerge(cmd *cobra.Command, f *reviewFlags, dirs []string) error {
	switch {
	case len(dirs) == 0:
		return wrongUsage(cmd, "usage.merge.none", nil)
	case f.out == "":
		return wrongUsage(cmd, "usage.merge.out", nil)
	}
	debug.SetGCPercent(auditGarbage)
	v, err := f.review(cmd)
	if err != nil {
		return err
	}
	p.warnOfReadings(v.Lang, v.Readings)
	watch := newAuditWatch(p.stderr, v.Lang)
	v.Watch = watch.show
	a, err := audit.Merge(cmd.Context(), dirs, f.out, v)
	watch.close()
	if err != nil {
		return err
	}
	return p.tellAudit(a, f.out, f.json)
}

// auditVersion is the version that measurements are kept under. A build by hand
// has none of its own, so its program's hash stands beside it.
func auditVersion() string {
	v := toolVersion()
	if v != "dev" && v != "unknown" {
		return v
	}
	path, err := os.Executable()
	if err != nil {
		return v
	}
	f, err := os.Open(path)
	if err != nil {
		return v
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return v
	}
	return v + "-" + hex.EncodeToString(h.Sum(nil)[:6])
}

// resumeCommand is the command that goes on with a run that was stopped.
func resumeCommand(args []string) string {
	words := []string{"sitspan"}
	for _, a := range args[1:] {
		if a == "" || strings.ContainsAny(a, " \t\n'\"\\$`*?[]{}()<>|&;#~!") {
			a = "'" + strings.ReplaceAll(a, "'", `'\''`) + "'"
		}
		words = append(words, a)
	}
	if !slices.Contains(words, "--resume") {
		at := min(len(words), slices.Index(words, "audit")+1)
		words = slices.Insert(words, at, "--resume")
	}
	return strings.Join(words, " ")
}
