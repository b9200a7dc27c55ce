package desk

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sitspan/cmd/sitspan/internal/words"
)

// lanTLS is the desk's own certificate for the local network.
type lanTLS struct {
	config      *tls.Config
	Fingerprint string // SHA-256 of the certificate that a phone sees
	Authority   string // and of the shop's own authority that signed it
	path        string // of the authority's certificate, for a phone that is to trust it
}

// The validity of what is made. Apple's phones refuse a server's certificate that
// lasts longer than 398 days where a root of their own signed it, and except those that a
// user installed (Apple, support.apple.com/102028). We stay below it, in case others do not.
const (
	authorityYears = 10
	leafDays       = 390
	renewDays      = 30
)

// newLAN loads, or makes, the authority and the certificate for these addresses
// in dir/tls. Keys are readable by their owner only.
func newLAN(dir string, ips []net.IP) (*lanTLS, error) {
	dir = filepath.Join(dir, "tls")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	ca, err := loadOrMake(dir, "authority", func(*x509.Certificate) bool { return true }, makeAuthority)
	if err != nil {
		return nil, words.Fault("error.desk.authority", words.Values{"why": err})
	}
	fits := func(c *x509.Certificate) bool {
		return c.CheckSignatureFrom(ca.Leaf) == nil && time.Until(c.NotAfter) > renewDays*24*time.Hour &&
			slices.EqualFunc(c.IPAddresses, ips, net.IP.Equal)
	}
	leaf, err := loadOrMake(dir, "desk", fits, func() (tls.Certificate, error) { return makeLeaf(ca, ips) })
	if err != nil {
		return nil, words.Fault("error.desk.certificate", words.Values{"why": err})
	}
	return &lanTLS{
		config:      &tls.Config{Certificates: []tls.Certificate{leaf}, MinVersion: tls.VersionTLS12},
		Fingerprint: fingerprint(leaf.Certificate[0]), Authority: fingerprint(ca.Certificate[0]),
		path: filepath.Join(dir, "authority.pem"),
	}, nil
}

// fingerprint is the SHA-256 of a certificate, in the pairs that phones show.
func fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	pairs := make([]string, len(sum))
	for i, b := range sum {
		pairs[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(pairs, ":")
}

// loadOrMake loads NAME.pem and NAME-key.pem, and makes them where they are
// missing, unreadable or no longer fit.
func loadOrMake(dir, name string, fits func(*x509.Certificate) bool,
	make func() (tls.Certificate, error)) (tls.Certificate, error) {
	certPath, keyPath := filepath.Join(dir, name+".pem"), filepath.Join(dir, name+"-key.pem")
	c, err := tls.LoadX509KeyPair(certPath, keyPath)
	if err == nil && time.Now().Before(c.Leaf.NotAfter) && fits(c.Leaf) {
		return c, nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) && name == "authority" {
		return c, words.Fault("error.desk.certificate_anew", words.Values{"why": err, "dir": dir})
	}
	if c, err = make(); err != nil {
		return c, err
	}
	key, err := x509.MarshalPKCS8PrivateKey(c.PrivateKey)
	if err != nil {
		return c, err
	}
	if err := writeNew(keyPath, "PRIVATE KEY", key, 0o600); err != nil {
		return c, err
	}
	return c, writeNew(certPath, "CERTIFICATE", c.Certificate[0], 0o644)
}

func writeNew(path, kind string, der []byte, mode os.FileMode) error {
	temp := path + ".new"
	if err := os.WriteFile(temp, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), mode); err != nil {
		return err
	}
	return os.Rename(temp, path)
}

// privateNets are the only addresses that the authority may vouch for.
var privateNets = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "fc00::/7",
	"fe80::/10"}

func makeAuthority() (tls.Certificate, error) {
	t := certificate("sitspan desk, this shop's own authority", authorityYears*365)
	t.IsCA, t.BasicConstraintsValid, t.MaxPathLenZero = true, true, true
	t.KeyUsage = x509.KeyUsageCertSign
	t.PermittedDNSDomainsCritical = true
	t.PermittedDNSDomains = []string{"invalid"} // no name at all
	for _, n := range privateNets {
		_, network, err := net.ParseCIDR(n)
		if err != nil {
			return tls.Certificate{}, err
		}
		t.PermittedIPRanges = append(t.PermittedIPRanges, network)
	}
	return sign(t, nil)
}

func makeLeaf(ca tls.Certificate, ips []net.IP) (tls.Certificate, error) {
	t := certificate("sitspan desk", leafDays)
	t.IPAddresses = ips
	t.KeyUsage, t.ExtKeyUsage = x509.KeyUsageDigitalSignature, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}
	return sign(t, &ca)
}

func certificate(name string, days int) *x509.Certificate {
	serial, _ := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120)) // crypto/rand never fails
	return &x509.Certificate{SerialNumber: serial, Subject: pkix.Name{CommonName: name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().AddDate(0, 0, days)}
}

// sign makes a key and its certificate, signed by ca or by itself.
func sign(t *x509.Certificate, ca *tls.Certificate) (tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, err
	}
	parent, signer := t, any(key)
	if ca != nil {
		parent, signer = ca.Leaf, ca.PrivateKey
	}
	der, err := x509.CreateCertificate(rand.Reader, t, parent, &key.PublicKey, signer)
	if err != nil {
		return tls.Certificate{}, err
	}
	c := tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}
	if ca != nil {
		c.Certificate = append(c.Certificate, ca.Certificate[0])
	}
	c.Leaf, err = x509.ParseCertificate(der)
	return c, err
}

// lanAddresses are this computer's own IPv4 addresses in a private network.
func lanAddresses() ([]net.IP, error) {
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil, err
	}
	var ips []net.IP
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil && n.IP.IsPrivate() {
			ips = append(ips, n.IP.To4())
		}
	}
	if len(ips) == 0 {
		return nil, words.Fault("error.desk.no_network", nil)
	}
	return ips, nil
}
