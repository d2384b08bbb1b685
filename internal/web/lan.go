package web

import (
	"bytes"
	"context"
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
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"rsc.io/qr"
)

// LAN says how other devices of the studio's own network come in. They have a
// door of their own, beside that of this machine: an encrypted one, behind a
// passphrase. The machine's own door stays as it is.
//
// The door speaks TLS under a certificate that the program makes itself. Plain
// HTTP would spare the browser's one warning, but passphrase and films would
// cross the air for anyone on that network to read, and a tablet's browser gives
// its camera to encrypted pages alone. So that the warning can be answered
// knowingly, the certificate's fingerprint is printed, to be held against the
// one that the tablet shows.
type LAN struct {
	// Port is the port wanted, another where it is taken; 0 is any.
	Port int
	// Dir is the folder in which key and certificate are kept.
	Dir string
	// Check tells whether a passphrase is the studio's.
	Check func(ctx context.Context, passphrase string) (bool, error)
}

// DefaultLANPort is the port of the door for other devices.
const DefaultLANPort = DefaultPort + 1

// LANStatus is what a person needs to come in: GET /api/lan.
type LANStatus struct {
	On bool `json:"on"`
	// URLs are the addresses, that of the likeliest network first.
	URLs []string `json:"urls"`
	// QR is where the first address is drawn as a code to film; null where none.
	QR *string `json:"qr"`
	// Fingerprint is the SHA-256 of the certificate, as browsers show it.
	Fingerprint string `json:"fingerprint,omitempty"`
}

// door is the listener for other devices and what it shows.
type door struct {
	net.Listener
	status LANStatus
	names  []string
	tls    *tls.Config
}

// openDoor takes the port and makes the certificate ready.
func openDoor(opts *LAN, now time.Time) (*door, error) {
	if opts.Port < 0 || opts.Port > 65535 {
		return nil, fmt.Errorf("port %d is not a port: choose 1 to 65535, or 0 for any that is free", opts.Port)
	}
	addrs := ownAddrs()
	if len(addrs) == 0 {
		return nil, errors.New("this machine is in no network that a tablet could share; join the studio's network and start again")
	}
	names := ownNames()
	cert, err := certificate(opts.Dir, addrs, names, now)
	if err != nil {
		return nil, err
	}
	l, err := net.Listen("tcp", net.JoinHostPort("", strconv.Itoa(opts.Port)))
	if err != nil && opts.Port != 0 {
		l, err = net.Listen("tcp", ":0")
	}
	if err != nil {
		return nil, fmt.Errorf("no port is free for other devices: %w", err)
	}
	port := strconv.Itoa(l.Addr().(*net.TCPAddr).Port)
	d := &door{Listener: neighbours{l}, names: names, tls: &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12}}
	d.status = LANStatus{On: true, Fingerprint: fingerprint(cert.Certificate[0])}
	for _, a := range addrs {
		d.status.URLs = append(d.status.URLs, "https://"+net.JoinHostPort(a.String(), port)+"/")
	}
	code := lanCode
	d.status.QR = &code
	return d, nil
}

// lanCode is where the code to film is.
const lanCode = "/api/lan/qr.svg"

// lanRoutes answer how to come in, on either door.
func lanRoutes(mux *http.ServeMux, status func() LANStatus) {
	mux.HandleFunc("GET /api/lan", func(w http.ResponseWriter, r *http.Request) {
		api{}.json(w, r, status())
	})
	mux.HandleFunc("GET "+lanCode, func(w http.ResponseWriter, r *http.Request) {
		s := status()
		if !s.On {
			fail(w, http.StatusNotFound, "Other devices cannot come in; start gaitwright with --lan.")
			return
		}
		svg, err := codeSVG(s.URLs[0])
		if err != nil {
			fail(w, http.StatusInternalServerError, "The code cannot be drawn: "+err.Error())
			return
		}
		w.Header().Set("Cache-Control", "no-cache")
		send(w, r, "image/svg+xml", svg, nil, tagOf(svg))
	})
}

// margin is the light border that a code needs, in its modules (ISO/IEC 18004).
const margin = 4

// codeSVG draws a text as a QR code, dark on light whatever the page's look.
func codeSVG(text string) ([]byte, error) {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	n := c.Size + 2*margin
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" shape-rendering="crispEdges"><path fill="#fff" d="M0 0h%dv%dH0z"/><path d="`, n, n, n, n)
	for y := range c.Size {
		for x := 0; x < c.Size; x++ {
			from := x
			for c.Black(x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from+margin, y+margin, x-from, x-from)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return b.Bytes(), nil
}

// CodeText draws a text as a QR code for a terminal: two modules a character,
// black on white by the terminal's own colours.
func CodeText(text string) (string, error) {
	c, err := qr.Encode(text, qr.L)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	for y := -margin; y < c.Size+margin; y += 2 {
		b.WriteString("\x1b[38;5;16;48;5;231m")
		for x := -margin; x < c.Size+margin; x++ {
			switch upper, lower := c.Black(x, y), c.Black(x, y+1); {
			case upper && lower:
				b.WriteRune('█')
			case upper:
				b.WriteRune('▀')
			case lower:
				b.WriteRune('▄')
			default:
				b.WriteRune(' ')
			}
		}
		b.WriteString("\x1b[0m\n")
	}
	return b.String(), nil
}

// ownAddrs lists the addresses at which devices of the same networks reach this
// machine, that of the network that leads outward first; those of IPv6 only where
// there are no others, as they are long and change.
func ownAddrs() []netip.Addr {
	outward := outwardAddr()
	var four, six []netip.Addr
	for _, n := range ownNetworks() {
		a := n.Addr()
		switch {
		case a.IsLoopback() || a.IsLinkLocalUnicast() || n.inner:
		case a == outward:
			four = slices.Insert(four, 0, a)
		case a.Is4():
			four = append(four, a)
		default:
			six = append(six, a)
		}
	}
	if len(four) == 0 {
		return six
	}
	return four
}

// network is one that this machine is in, with its own address there.
type network struct {
	netip.Prefix
	inner bool // between this machine and the ones it only imitates
}

func ownNetworks() []network {
	list, err := net.Interfaces()
	if err != nil {
		return nil
	}
	var out []network
	for _, i := range list {
		addrs, err := i.Addrs()
		if err != nil || i.Flags&net.FlagUp == 0 {
			continue
		}
		inner := slices.ContainsFunc([]string{"docker", "br-", "veth", "virbr", "vmnet", "vboxnet", "vEthernet"}, func(p string) bool { return strings.HasPrefix(i.Name, p) })
		for _, a := range addrs {
			if p, err := netip.ParsePrefix(a.String()); err == nil {
				out = append(out, network{netip.PrefixFrom(p.Addr().Unmap(), p.Bits()), inner})
			}
		}
	}
	return out
}

// outwardAddr is the address that the system would send from. Naming a peer for
// datagrams sends nothing; the address is one for documentation (RFC 5737).
func outwardAddr() netip.Addr {
	c, err := net.Dial("udp4", "192.0.2.1:9")
	if err != nil {
		return netip.Addr{}
	}
	defer c.Close()
	a, err := netip.ParseAddrPort(c.LocalAddr().String())
	if err != nil {
		return netip.Addr{}
	}
	return a.Addr().Unmap()
}

// ownNames are the names by which a network may know this machine.
func ownNames() []string {
	host, err := os.Hostname()
	host = strings.ToLower(host)
	if err != nil || host == "" || strings.ContainsAny(host, "/:* ") {
		return nil
	}
	short, _, _ := strings.Cut(host, ".")
	names := []string{host, short, short + ".local"}
	slices.Sort(names)
	return slices.Compact(names)
}

// neighbours lets in devices of the networks that this machine is in, and no
// others: it may have an address that the whole world can reach.
type neighbours struct{ net.Listener }

func (n neighbours) Accept() (net.Conn, error) {
	for {
		c, err := n.Listener.Accept()
		if err != nil {
			return nil, err
		}
		if a, err := netip.ParseAddrPort(c.RemoteAddr().String()); err == nil && isNeighbour(a.Addr(), ownNetworks()) {
			return c, nil
		}
		c.Close()
	}
}

func isNeighbour(a netip.Addr, own []network) bool {
	a = a.Unmap().WithZone("")
	if a.IsLoopback() || a.IsPrivate() || a.IsLinkLocalUnicast() {
		return true
	}
	// A network of a campus may have public addresses.
	return slices.ContainsFunc(own, func(p network) bool { return p.Bits() > 8 && p.Masked().Contains(a) })
}

// How long a certificate is good, within the 825 days that Apple's systems allow
// (from memory), and how long before its end it is made anew.
const (
	certDays  = 800
	renewDays = 30
)

// certificate gives the kept certificate, or makes one where it is missing, runs
// out, or lacks an address that the machine has now. The key stays.
func certificate(dir string, addrs []netip.Addr, names []string, now time.Time) (tls.Certificate, error) {
	certFile, keyFile := filepath.Join(dir, "certificate.pem"), filepath.Join(dir, "key.pem")
	if kept, err := tls.LoadX509KeyPair(certFile, keyFile); err == nil && serves(kept.Leaf, addrs, now) {
		return kept, nil
	}
	key, err := keptKey(keyFile)
	if err != nil {
		return tls.Certificate{}, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return tls.Certificate{}, err
	}
	t := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "gaitwright of this studio"},
		NotBefore: now.Add(-time.Hour), NotAfter: now.AddDate(0, 0, certDays),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
		DNSNames: names,
	}
	for _, a := range addrs {
		t.IPAddresses = append(t.IPAddresses, a.AsSlice())
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, &key.PublicKey, key)
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("a certificate cannot be made: %w", err)
	}
	if err := keep(certFile, "CERTIFICATE", der); err != nil {
		return tls.Certificate{}, err
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return tls.Certificate{}, err
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}, nil
}

// serves tells whether a certificate is good for the addresses for a while.
func serves(c *x509.Certificate, addrs []netip.Addr, now time.Time) bool {
	if c == nil || now.Before(c.NotBefore) || now.AddDate(0, 0, renewDays).After(c.NotAfter) {
		return false
	}
	for _, a := range addrs {
		// Addresses of IPv6 change daily and nobody types them.
		if a.Is4() && c.VerifyHostname(a.String()) != nil {
			return false
		}
	}
	return true
}

// keptKey reads the key, or makes one that this user alone may read.
func keptKey(file string) (*ecdsa.PrivateKey, error) {
	pemText, err := os.ReadFile(file)
	if err == nil {
		if block, _ := pem.Decode(pemText); block != nil {
			if key, err := x509.ParsePKCS8PrivateKey(block.Bytes); err == nil {
				if k, ok := key.(*ecdsa.PrivateKey); ok {
					return k, nil
				}
			}
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("the key for other devices cannot be read: %w", err)
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	return key, keep(file, "PRIVATE KEY", der)
}

// keep writes a PEM file whole.
func keep(file, kind string, der []byte) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("key and certificate for other devices cannot be kept in %s: %w", filepath.Dir(file), err)
		}
	}()
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(file), ".new-*") // 0600
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	if err := errors.Join(pem.Encode(f, &pem.Block{Type: kind, Bytes: der}), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), file)
}

// fingerprint writes the SHA-256 of a certificate as browsers do.
func fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	parts := make([]string, len(sum))
	for i, b := range sum {
		parts[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(parts, ":")
}
