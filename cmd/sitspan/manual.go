package main

import (
	"fmt"
	"os"
	"strconv"
	"time"

	"sitspan/cmd/sitspan/internal/words"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// manualCommand is for whoever packs the program; the help does not show it.
func (p *program) manualCommand() *cobra.Command {
	return &cobra.Command{
		Use:    "manual",
		Hidden: true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return wrongUsage(cmd, "usage.manual", words.Values{"n": len(args)})
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return notWritten(args[0], err)
			}
			cmd.Root().DisableAutoGenTag = true
			describe(cmd.Root(), words.English)
			return notWritten(args[0], doc.GenManTree(cmd.Root(), manualHeader(), args[0]))
		},
	}
}

// manualHeader has the day of SOURCE_DATE_EPOCH where that is set
// (reproducible-builds.org, specification 1.1), so that a package can be built again
// byte for byte.
func manualHeader() *doc.GenManHeader {
	day := time.Now()
	if s, err := strconv.ParseInt(os.Getenv("SOURCE_DATE_EPOCH"), 10, 64); err == nil {
		day = time.Unix(s, 0).UTC()
	}
	return &doc.GenManHeader{
		Title: "SITSPAN", Section: "1", Date: &day,
		Source: fmt.Sprintf("sitspan %s", toolVersion()), Manual: "User commands",
	}
}
