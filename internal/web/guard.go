package web

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// The policy of the page: its own script, style, pictures and data, and nothing
// else from anywhere. Markup can become script only through the one policy by
// which the page's own templates are made.
const pagePolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'; " +
	"require-trusted-types-for 'script'; trusted-types svelte-trusted-html"

// The policy of a report opened by itself: a browser's own PDF viewer and the
// styles inside a drawing need a little room, scripts get none.
const reportPolicy = "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; img-src data:; font-src data:; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

const otherSite = "Another site asked for this; only the page itself may."

// guard refuses requests that do not come from the page itself and sets the
// headers that every answer has.
func guard(next http.Handler, names []string) http.Handler {
	protection := http.NewCrossOriginProtection()
	protection.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { fail(w, http.StatusForbidden, otherSite) }))
	safe := protection.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", pagePolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		// A page opened by another site's is cut off from it. One that was opened by hand,
		// by this program or from its own page has no such opener, and a browser told to
		// cut all the same would begin a process of its own for it first: the first page
		// would stand some 40 ms later.
		h.Add("Vary", "Sec-Fetch-Site")
		if site := r.Header.Get("Sec-Fetch-Site"); site != "none" && site != "same-origin" {
			h.Set("Cross-Origin-Opener-Policy", "same-origin")
		}
		h.Set("Permissions-Policy", "camera=(self), microphone=(self), geolocation=(), browsing-topics=()")
		if !ownHost(r, names) {
			fail(w, http.StatusMisdirectedRequest, "This server answers only under its own address; open the address that gaitwright printed.")
			return
		}
		// Films are private even to read: what another site's page asks for is
		// refused, whatever the method, and so is what another program's page on
		// this machine asks for. A link followed there is a navigation and shows
		// the page alone.
		if site := r.Header.Get("Sec-Fetch-Site"); (site == "cross-site" || site == "same-site") && strings.HasPrefix(r.URL.Path, "/api/") {
			fail(w, http.StatusForbidden, otherSite)
			return
		}
		safe.ServeHTTP(w, r)
	})
}

// ownHost tells whether the Host header names this server: localhost, an
// address of the loopback, the address the connection came in on, or one of
// names. Any other name may be a stranger's that was pointed here.
func ownHost(r *http.Request, names []string) bool {
	host := r.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.ToLower(strings.TrimSuffix(host, "."))
	if host == "localhost" {
		return true
	}
	if ip, err := netip.ParseAddr(strings.Trim(host, "[]")); err == nil {
		if ip.IsLoopback() {
			return true
		}
		local, _ := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
		if local == nil {
			return false
		}
		at, err := netip.ParseAddrPort(local.String())
		return err == nil && at.Addr().Unmap() == ip.Unmap()
	}
	return slices.ContainsFunc(names, func(n string) bool { return strings.EqualFold(n, host) })
}
