package desk

import "crypto/tls"

// insecure accepts any certificate: the tests speak to this computer only.
func insecure() *tls.Config { return &tls.Config{InsecureSkipVerify: true} }
