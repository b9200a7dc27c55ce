package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"sitspan/cmd/sitspan/internal/desk"
	"sitspan/cmd/sitspan/internal/shop"
	"sitspan/cmd/sitspan/internal/store"
	"sitspan/cmd/sitspan/internal/words"
	"sitspan/cmd/sitspan/internal/worker"
)

// deskAddr is where the desk answers unless told otherwise.
const deskAddr = "127.0.0.1:8420"

type deskFlags struct {
	addr, data, shop string
	lan, noOpen      bool
}

func (p *program) deskCommand() *cobra.Command {
	f := &deskFlags{}
	cmd := &cobra.Command{
		Use:  "desk",
		Args: func(cmd *cobra.Command, args []string) error { return noArguments(cmd, args) },
		RunE: func(cmd *cobra.Command, _ []string) error { return p.desk(cmd, f) },
	}
	cmd.Flags().StringVar(&f.addr, "addr", deskAddr, "")
	cmd.Flags().BoolVar(&f.lan, "lan", false, "")
	cmd.Flags().BoolVar(&f.noOpen, "no-open", false, "")
	cmd.Flags().StringVar(&f.shop, "shop", shop.FileName, "")
	cmd.PersistentFlags().StringVar(&f.data, "data", "", "")
	cmd.AddCommand(p.deskBackupCommand(f))
	return cmd
}

func (p *program) deskBackupCommand(f *deskFlags) *cobra.Command {
	return &cobra.Command{
		Use: "backup",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return wrongUsage(cmd, "usage.new_folder", words.Values{"n": len(args)})
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := f.dataDir()
			if err != nil {
				return err
			}
			photos, err := store.BackUp(cmd.Context(), dir, args[0])
			if err != nil {
				return err
			}
			fmt.Fprintln(p.stdout, p.language().Say("terminal.desk.backed_up",
				words.Values{"dir": args[0], "n": photos}))
			return nil
		},
	}
}

func (f *deskFlags) dataDir() (string, error) {
	if f.data != "" {
		info, err := os.Stat(f.data)
		if err == nil && !info.IsDir() || errors.Is(err, syscall.ENOTDIR) {
			return "", words.Fault("error.data.file", words.Values{"path": f.data})
		}
		return f.data, nil
	}
	return store.DefaultDir()
}

func (p *program) desk(cmd *cobra.Command, f *deskFlags) error {
	if err := desk.CheckAddress(f.addr); err != nil {
		return err
	}
	dir, err := f.dataDir()
	if err != nil {
		return err
	}
	at, settings, err := shopOf(cmd, f.shop, dir)
	if err != nil {
		return err
	}
	if _, err := settings.Advisor(); err != nil {
		return err // a stock that cannot be read is told now, not before a rider
	}
	s, page, err := openOrFind(cmd.Context(), dir)
	if page != "" {
		p.showRunning(cmd, f, page)
		return nil
	}
	if err != nil {
		return err
	}
	defer s.Close()
	d, err := desk.New(desk.Options{Store: s, Shop: settings, ShopAt: at, Command: worker.Program(workerName),
		Log: p.stderr})
	if err != nil {
		return err
	}
	defer d.Close()
	l, err := d.Listen(f.addr, f.lan)
	if err != nil {
		return err
	}
	if err := s.SayWho("at " + l.URL); err != nil {
		return err
	}
	lang := p.language()
	fmt.Fprintln(p.stdout, lang.Say("terminal.desk.at", words.Values{"page": l.URL, "dir": dir}))
	if f.lan {
		fmt.Fprintln(p.stdout, lang.Say("terminal.desk.at.phones", words.Values{"page": l.URL}))
		fmt.Fprintln(p.stdout, lang.Say("terminal.desk.at.fingerprint", words.Values{"print": l.Fingerprint}))
	}
	f.openBrowser(l.URL)
	return l.Wait(cmd.Context())
}

// shopOf loads the settings of a data folder's shop: the file that --shop names, shop.yaml here, or else the
// one in the data folder, which the desk's pages make.
func shopOf(cmd *cobra.Command, named, dir string) (at string, s shop.Shop, err error) {
	if _, e := os.Stat(named); cmd.Flags().Changed("shop") || e == nil {
		s, err = (&choiceFlags{shop: named}).settings(cmd)
	} else {
		named = filepath.Join(dir, shop.FileName)
		s, err = shop.LoadOrDefault(named)
		err = notRead(words.Fault("error.what.settings", nil), named, err)
	}
	if err != nil {
		return "", s, err
	}
	at, err = filepath.Abs(named)
	return at, s, err
}

// showRunning opens the page of the desk that has the data. What it was started with stays.
func (p *program) showRunning(cmd *cobra.Command, f *deskFlags, page string) {
	fmt.Fprintln(p.stdout, p.language().Say("terminal.desk.at.already", words.Values{"page": page}))
	for _, name := range []string{"lan", "addr", "shop"} {
		if cmd.Flags().Changed(name) {
			p.tell("terminal.desk.at.flag", words.Values{"flag": name})
		}
	}
	f.openBrowser(page)
}

// openOrFind opens the data folder, or gives the page of the desk that has it. One that has only just been
// started gets a moment to say where it answers.
func openOrFind(ctx context.Context, dir string) (s *store.Store, page string, err error) {
	for range 50 {
		s, err = store.Open(dir, store.Opening)
		var other *store.InUse
		if !errors.As(err, &other) {
			return s, "", err
		}
		if _, at, there := strings.Cut(other.By, ", at "); there && strings.HasPrefix(at, "http://") {
			return nil, at, nil
		}
		if !strings.HasSuffix(other.By, store.Opening) {
			break
		}
		select {
		case <-ctx.Done():
			return nil, "", ctx.Err()
		case <-time.After(100 * time.Millisecond):
		}
	}
	return nil, "", err
}

// openBrowser asks the system to; where it cannot, the address stands on the
// terminal.
func (f *deskFlags) openBrowser(url string) {
	if f.noOpen {
		return
	}
	name := "xdg-open"
	if runtime.GOOS == "darwin" {
		name = "open"
	}
	cmd := exec.Command(name, url)
	if cmd.Start() == nil {
		go cmd.Wait()
	}
}
