package signal

// Spline writes to dst the values at atS of the natural cubic splines through
// the runs of finite values of x, given at timeS; both clocks increase. It is
// smooth to the second derivative, unlike [Resample], and so fits what will be
// differentiated. Between runs, and outside the clock, it gives NaN. scratch may
// be nil; one that is kept between calls saves allocations.
func Spline(dst, timeS, x, atS []float64, scratch *[]float64) {
	if len(dst) != len(atS) || len(x) != len(timeS) {
		panic("signal: Spline: times and values differ in length")
	}
	blank(dst)
	var own []float64
	if scratch == nil {
		scratch = &own
	}
	if cap(*scratch) < 2*len(x) {
		*scratch = make([]float64, 2*len(x))
	}
	k := 0
	for from, to := range Runs(x) {
		t, y := timeS[from:to], x[from:to]
		n := len(t)
		for k < len(atS) && atS[k] < t[0] {
			k++
		}
		if n == 1 {
			if k < len(atS) && atS[k] == t[0] {
				dst[k] = y[0]
			}
			continue
		}
		m, c := (*scratch)[:n], (*scratch)[n:2*n]
		curvatures(m, c, t, y)
		i := 0
		for k < len(atS) && atS[k] <= t[n-1] {
			for i+2 < n && t[i+1] < atS[k] {
				i++
			}
			h := t[i+1] - t[i]
			a, b := (t[i+1]-atS[k])/h, (atS[k]-t[i])/h
			dst[k] = a*y[i] + b*y[i+1] + ((a*a*a-a)*m[i]+(b*b*b-b)*m[i+1])*h*h/6
			k++
		}
	}
}

// curvatures solves for the second derivatives m of the natural spline through
// (t, y); c is scratch of the same length.
func curvatures(m, c, t, y []float64) {
	n := len(t)
	m[0], c[0] = 0, 0
	for i := 1; i < n-1; i++ {
		hl, hr := t[i]-t[i-1], t[i+1]-t[i]
		d := 6 * ((y[i+1]-y[i])/hr - (y[i]-y[i-1])/hl)
		p := 2*(hl+hr) - hl*c[i-1]
		c[i] = hr / p
		m[i] = (d - hl*m[i-1]) / p
	}
	m[n-1] = 0
	for i := n - 2; i >= 1; i-- {
		m[i] -= c[i] * m[i+1]
	}
}
