package desk

import "log"

// quietLog is for what net/http says of connections: that a phone refused the
// certificate is told, and no address of a page.
func quietLog(d *Desk) *log.Logger { return log.New(&toLog{d}, "", 0) }

type toLog struct{ d *Desk }

// Write tells one line.
func (t *toLog) Write(b []byte) (int, error) {
	t.d.logf("local network: %s", trimmed(b))
	return len(b), nil
}

func trimmed(b []byte) string {
	const most = 200
	for len(b) > 0 && b[len(b)-1] == '\n' {
		b = b[:len(b)-1]
	}
	return string(b[:min(len(b), most)])
}
