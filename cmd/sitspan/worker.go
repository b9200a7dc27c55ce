package main

import (
	"os"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/child"
	"sitspan/cmd/sitspan/internal/intake"
	"sitspan/cmd/sitspan/internal/worker"
)

// workerName is the hidden command that measures for another process of this program; see package worker.
const workerName = "measure-worker"

func (p *program) workerCommand() *cobra.Command {
	return &cobra.Command{
		Use:    workerName,
		Hidden: true,
		Args:   noArguments,
		RunE: func(*cobra.Command, []string) error {
			open := p.openWorker
			if open == nil {
				open = openMeasurer
			}
			return worker.Serve(os.Stdin, os.Stdout, open)
		},
	}
}

// openMeasurer makes the station that a worker measures at.
func openMeasurer(s worker.Settings) (worker.Measurer, error) {
	intake.Version = toolVersion() // for the records
	return child.Open(s)
}
