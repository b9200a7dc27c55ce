package desk

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"

	"sitspan/cmd/sitspan/internal/words"
)

// server bounds how long a client may take. A phone in a corner of the shop may
// need a minute for 30 MB.
func server(h http.Handler) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 3 * time.Minute,
		WriteTimeout: 3 * time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 1 << 16}
}

// Listening is a desk that answers.
type Listening struct {
	URL         string // on this computer
	LAN         []string
	Fingerprint string // of the certificate for the local network
	servers     []*http.Server
	failed      chan error
}

// CheckAddress refuses an address that is not this computer's own.
func CheckAddress(addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return words.Fault("error.desk.address", words.Values{"text": addr})
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return words.Fault("error.desk.elsewhere", words.Values{"host": host})
	}
	return nil
}

// Listen starts to answer at addr, which must be this computer's own; with lan
// also in the local network, by TLS, at the next port.
func (d *Desk) Listen(addr string, lan bool) (*Listening, error) {
	if err := CheckAddress(addr); err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, words.Fault("error.desk.taken", words.Values{"address": addr, "why": err})
	}
	out := &Listening{URL: "http://" + l.Addr().String(), failed: make(chan error, 2)}
	if lan {
		if err := d.listenLAN(out, l.Addr().(*net.TCPAddr).Port+1); err != nil {
			l.Close()
			return nil, err
		}
	}
	out.serve(server(d.Handler()), l)
	return out, nil
}

func (d *Desk) listenLAN(out *Listening, port int) error {
	ips, err := lanAddresses()
	if err != nil {
		return err
	}
	if d.lan, err = newLAN(d.store.Dir(), ips); err != nil {
		return err
	}
	for _, ip := range ips {
		l, err := net.Listen("tcp", net.JoinHostPort(ip.String(), fmt.Sprint(port)))
		if err != nil {
			return words.Fault("error.desk.lan", words.Values{"why": err})
		}
		d.lanURL = append(d.lanURL, "https://"+l.Addr().String())
		s := server(d.LANHandler())
		s.ErrorLog = quietLog(d)
		out.serve(s, tls.NewListener(l, d.lan.config))
	}
	out.LAN, out.Fingerprint = d.lanURL, d.lan.Fingerprint
	return nil
}

func (l *Listening) serve(s *http.Server, on net.Listener) {
	l.servers = append(l.servers, s)
	go func() {
		if err := s.Serve(on); !errors.Is(err, http.ErrServerClosed) {
			l.failed <- err
		}
	}()
}

// Wait answers until ctx ends, and lets what is under way come to its end.
func (l *Listening) Wait(ctx context.Context) error {
	var err error
	select {
	case <-ctx.Done():
	case err = <-l.failed:
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	for _, s := range l.servers {
		if e := s.Shutdown(end); e != nil {
			s.Close()
		}
	}
	return err
}
