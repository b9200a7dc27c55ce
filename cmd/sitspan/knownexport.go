package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/bare"
	"sitspan/cmd/sitspan/internal/proof"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/imprint/photo"
)

// knownTruth is a line of an export's truth.jsonl, as the scoring of photos with known truth reads it.
type knownTruth struct {
	Name      string  `json:"name"`
	Imprint   int64   `json:"imprint"` // photos of one number show one imprint
	Kind      string  `json:"kind"`    // foam or ink
	Shape     string  `json:"shape"`
	Diameter  float64 `json:"diameter_mm,omitempty"`
	Spacing   float64 `json:"spacing_mm"`
	SpacingU  float64 `json:"spacing_u_mm"` // standard uncertainty
	Model     string  `json:"model,omitempty"`
	Light     string  `json:"light,omitempty"`
	PrintText string  `json:"print,omitempty"`
}

func (p *program) knownExportCommand(f *knownFlags) *cobra.Command {
	return &cobra.Command{
		Use: "export",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return wrongUsage(cmd, "usage.new_folder", words.Values{"n": len(args)})
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return p.knownExport(cmd, f, args[0]) },
	}
}

func (p *program) knownExport(cmd *cobra.Command, f *knownFlags, to string) error {
	lang, err := languageOf(cmd)
	if err != nil {
		return err
	}
	dir, err := f.dataDir()
	if err != nil {
		return err
	}
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return words.Fault("error.there_already", words.Values{"path": to})
	}
	list, err := store.ChecksIn(cmd.Context(), dir)
	if err != nil {
		return err
	}
	temp, err := os.MkdirTemp(filepath.Dir(filepath.Clean(to)), ".sitspan-export-*")
	if err != nil {
		return notWritten(to, err)
	}
	defer os.RemoveAll(temp) // gone already where it was renamed
	checks, photos, err := exportChecks(cmd.Context(), list, dir, temp)
	if err != nil {
		return err
	}
	if checks == 0 {
		return words.Fault("error.known.none", words.Values{"dir": dir})
	}
	if err := errors.Join(os.Chmod(temp, 0o755), os.Rename(temp, to)); err != nil {
		return notWritten(to, err)
	}
	v := words.Values{"n": fmt.Sprint(checks), "photos": fmt.Sprint(photos), "dir": printable(to)}
	fmt.Fprintln(p.stdout, lang.Say("known.exported", v))
	return nil
}

// exportChecks writes bare photos and their truth. What a person left out stays here; what was refused goes,
// too, since that is what improves the tool.
func exportChecks(ctx context.Context, list []store.Check, dir, to string) (checks, photos int, err error) {
	var truth bytes.Buffer
	for _, c := range list {
		if c.LeftOut != "" || c.Verdict == string(proof.Unlike) {
			continue
		}
		checks++
		for i, name := range c.Photos {
			if err := ctx.Err(); err != nil {
				return 0, 0, err
			}
			line, err := exportPhoto(c, store.PhotoIn(dir, name), to, i)
			if err != nil {
				return 0, 0, err
			}
			truth.Write(append(line, '\n'))
			photos++
		}
	}
	return checks, photos, os.WriteFile(filepath.Join(to, "truth.jsonl"), truth.Bytes(), 0o644)
}

func exportPhoto(c store.Check, path, to string, i int) (line []byte, err error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, notRead(words.Fault("error.what.photo", nil), path, err)
	}
	out, extension, err := bare.Make(data, filepath.Base(path), photo.Limits{})
	if err != nil {
		return nil, err
	}
	name := fmt.Sprintf("check-%d-%d%s", c.ID, i+1, extension)
	if err := os.WriteFile(filepath.Join(to, name), out, 0o644); err != nil {
		return nil, notWritten(name, err)
	}
	kind := "foam"
	if c.Medium == "paper" {
		kind = "ink"
	}
	return json.Marshal(knownTruth{
		Name: name, Imprint: c.ID, Kind: kind, Shape: "ball", Diameter: c.DiameterMM, Spacing: c.DistanceMM,
		SpacingU: c.DistanceU, Model: c.Phone, Light: c.Light, PrintText: c.Print,
	})
}

func (p *program) knownLeaveOutCommand(f *knownFlags) *cobra.Command {
	var because string
	cmd := &cobra.Command{
		Use:  "leave-out",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			because = strings.TrimSpace(because)
			switch {
			case len(args) != 1:
				return wrongUsage(cmd, "usage.leave_out.checks", words.Values{"n": len(args)})
			case because == "":
				return wrongUsage(cmd, "usage.leave_out.because", nil)
			}
			id, err := strconv.ParseInt(args[0], 10, 64)
			if err != nil {
				return wrongUsage(cmd, "usage.leave_out.number", words.Values{"text": args[0]})
			}
			dir, err := f.dataDir()
			if err != nil {
				return err
			}
			s, err := store.OpenForChecks(dir)
			if err != nil {
				return err
			}
			defer s.Close()
			if err := s.LeaveOutCheck(cmd.Context(), id, because); errors.Is(err, store.ErrNotFound) {
				return words.Fault("error.known.no_check", words.Values{"n": id})
			} else if err != nil {
				return err
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&because, "because", "", "")
	return cmd
}
