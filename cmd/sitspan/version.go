package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/imprint"
)

func (p *program) versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:  "version",
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error {
			p.tellVersion()
			return nil
		},
	}
}

func (p *program) tellVersion() {
	fmt.Fprintf(p.stdout, "sitspan %s (%s, %s/%s)\n", toolVersion(), runtime.Version(), runtime.GOOS,
		runtime.GOARCH)
	fmt.Fprintf(p.stdout, "model   %s\n", imprint.ModelSHA256())
}

// toolVersion is what the Makefile set by the linker, else the commit that Go
// found, else what a build by hand calls itself.
func toolVersion() string {
	info, ok := debug.ReadBuildInfo()
	if intake.Version != "dev" || !ok {
		return intake.Version
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	return intake.Version
}
