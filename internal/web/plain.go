package web

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"net/netip"
	"time"
)

// plain answers a browser that asks the encrypted door without encryption, as one does
// into which the address was typed without its https. It is sent to the same address
// encrypted; nothing that it said is read further or passed on.
type plain struct{ net.Listener }

// Accept waits for the next caller.
func (p plain) Accept() (net.Conn, error) {
	c, err := p.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return &plainConn{Conn: c}, nil
}

// plainConn looks at the first byte: TLS begins with a 22 (RFC 8446, 5.1), a request of
// HTTP with the capital of its method.
type plainConn struct {
	net.Conn
	begun bool
}

const (
	mostPlain = 8 << 10         // bytes of a request that are waited for
	plainWait = 2 * time.Second // for its end
)

// Read gives what arrives, and the end where it is not encrypted.
func (c *plainConn) Read(b []byte) (int, error) {
	n, err := c.Conn.Read(b)
	if c.begun || n == 0 {
		return n, err
	}
	c.begun = true
	if b[0] < 'A' || b[0] > 'Z' {
		return n, err
	}
	c.answer(b[:n])
	return 0, io.EOF
}

// answer sends the caller on, once its request has ended: a connection that is closed
// with something unread in it may lose the answer.
func (c *plainConn) answer(request []byte) {
	c.SetReadDeadline(time.Now().Add(plainWait))
	request = bytes.Clone(request)
	more := make([]byte, 1<<10)
	for !bytes.Contains(request, []byte("\r\n\r\n")) && len(request) < mostPlain {
		n, err := c.Conn.Read(more)
		if request = append(request, more[:n]...); err != nil {
			break
		}
	}
	at, err := netip.ParseAddrPort(c.LocalAddr().String())
	if err != nil {
		return
	}
	// Its own address, not one that the caller named.
	url := "https://" + netip.AddrPortFrom(at.Addr().Unmap().WithZone(""), at.Port()).String() + "/"
	page := fmt.Sprintf("<!doctype html><meta charset=utf-8><title>gaitwright</title><p>This address is an encrypted one: <a href=\"%s\">%s</a></p><p lang=de>Diese Adresse ist eine verschlüsselte: <a href=\"%s\">%s</a></p>\n", url, url, url, url)
	c.SetWriteDeadline(time.Now().Add(plainWait))
	fmt.Fprintf(c.Conn, "HTTP/1.1 307 Temporary Redirect\r\nLocation: %s\r\nContent-Type: text/html; charset=utf-8\r\nContent-Length: %d\r\nCache-Control: no-store\r\nConnection: close\r\n\r\n%s", url, len(page), page)
}
