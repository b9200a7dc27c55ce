package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// version is set by the Makefile's linker flag.
var version = ""

func (p *program) versionCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Tell the tool's version",
		Args:  noArguments,
		RunE: func(*cobra.Command, []string) error {
			fmt.Fprintf(p.stdout, "sitspan %s (%s, %s/%s)\n", toolVersion(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return nil
		},
	}
}

// toolVersion is the Makefile's, else the commit that Go found, else "unknown".
func toolVersion() string {
	if version != "" {
		return version
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	return "unknown"
}
