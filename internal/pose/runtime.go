package pose

import (
	"errors"
	"fmt"
	"runtime"
	"strings"
	"sync"
	"unsafe"

	"github.com/ebitengine/purego"
)

// ONNX Runtime's C interface is a table of functions of which only the order is
// fixed. These are the places of the ones used here; they have not moved since
// version 1 of the table (onnxruntime_c_api.h, MIT).
const (
	ortGetErrorMessage       = 2
	ortCreateEnv             = 3
	ortCreateSessionFromData = 8
	ortRun                   = 9
	ortCreateSessionOptions  = 10
	ortSetExecutionMode      = 13
	ortEnableMemPattern      = 16
	ortEnableCPUArena        = 18
	ortSetLogSeverity        = 22
	ortSetOptimizationLevel  = 23
	ortSetIntraThreads       = 24
	ortSetInterThreads       = 25
	ortCreateTensorWithData  = 49
	ortCreateCPUMemoryInfo   = 69
	ortReleaseStatus         = 93
	ortReleaseMemoryInfo     = 94
	ortReleaseSession        = 95
	ortReleaseValue          = 96
	ortReleaseSessionOptions = 100
	ortAddSessionConfig      = 130
	ortTableLength           = 131

	ortVersion = 14 // of the table asked for: any library from 1.14 on has it
)

// A library is a loaded ONNX Runtime with its environment. There is one a
// process, as the runtime itself demands.
type library struct {
	table *[ortTableLength]uintptr
	env   uintptr
}

var theLibrary struct {
	sync.Mutex
	*library
}

// pointer turns an address that C returned into a pointer. The memory behind it
// is C's, so the garbage collector has no part in it.
func pointer(addr *uintptr) unsafe.Pointer { return *(*unsafe.Pointer)(unsafe.Pointer(addr)) }

// loadLibrary loads the library at path, once a process.
func loadLibrary(path string) (*library, error) {
	theLibrary.Lock()
	defer theLibrary.Unlock()
	if theLibrary.library != nil {
		return theLibrary.library, nil
	}
	get, err := openLibrary(path, "OrtGetApiBase")
	if err != nil {
		return nil, fmt.Errorf("the inference library %s cannot be loaded: %w; install it again with `make setup`", path, err)
	}
	base, _, _ := purego.SyscallN(get)
	if base == 0 {
		return nil, fmt.Errorf("the inference library %s gives no interface; install it again with `make setup`", path)
	}
	first := *(*uintptr)(pointer(&base))
	table, _, _ := purego.SyscallN(first, ortVersion)
	if table == 0 {
		return nil, fmt.Errorf("the inference library %s is too old; install it again with `make setup`", path)
	}
	l := &library{table: (*[ortTableLength]uintptr)(pointer(&table))}
	name := cText("gaitwright")
	if err := l.call(ortCreateEnv, 3, uintptr(unsafe.Pointer(&name[0])), uintptr(unsafe.Pointer(&l.env))); err != nil {
		return nil, fmt.Errorf("the inference library does not start: %w", err)
	}
	runtime.KeepAlive(name)
	theLibrary.library = l
	return l, nil
}

func cText(s string) []byte { return append([]byte(s), 0) }

// call calls function f of the table and turns the status it returns into an
// error. Pointers are converted to uintptr in the argument list itself: the
// directive below then keeps what they point to alive and in place.
//
//go:uintptrescapes
func (l *library) call(f int, args ...uintptr) error {
	status, _, _ := purego.SyscallN(l.table[f], args...)
	if status == 0 {
		return nil
	}
	text, _, _ := purego.SyscallN(l.table[ortGetErrorMessage], status)
	var b strings.Builder
	for p := pointer(&text); b.Len() < 2000; p = unsafe.Add(p, 1) {
		c := *(*byte)(p)
		if c == 0 {
			break
		}
		b.WriteByte(c)
	}
	l.release(ortReleaseStatus, status)
	return errors.New(b.String())
}

func (l *library) release(f int, v uintptr) {
	if v != 0 {
		purego.SyscallN(l.table[f], v)
	}
}

// A session is a network ready to run, with its input and outputs in Go memory,
// which the runtime reads and writes in place; the fields here keep it alive,
// and Go's collector does not move it. A session is not safe for use by several goroutines at once.
type session struct {
	lib    *library
	handle uintptr

	in      []float32
	out     [][]float32
	names   [][]byte // kept for C
	inName  *[1]uintptr
	inValue *[1]uintptr
	outName []uintptr
	outVal  []uintptr
}

// newSession prepares a network to run on the given number of threads.
func newSession(l *library, model []byte, in port, outs []port, threads int) (*session, error) {
	var opts uintptr
	if err := l.call(ortCreateSessionOptions, uintptr(unsafe.Pointer(&opts))); err != nil {
		return nil, err
	}
	defer l.release(ortReleaseSessionOptions, opts)
	for _, step := range [...]struct {
		f    int
		args []uintptr
	}{
		{ortSetLogSeverity, []uintptr{opts, 3}},
		{ortSetOptimizationLevel, []uintptr{opts, 99}}, // all
		{ortSetExecutionMode, []uintptr{opts, 0}},      // one operator after the other
		{ortSetIntraThreads, []uintptr{opts, uintptr(threads)}},
		{ortSetInterThreads, []uintptr{opts, 1}},
		{ortEnableMemPattern, []uintptr{opts}},
		{ortEnableCPUArena, []uintptr{opts}},
	} {
		if err := l.call(step.f, step.args...); err != nil {
			return nil, err
		}
	}
	for _, kv := range [...][2]string{
		{"session.set_denormal_as_zero", "1"},
		// Threads that wait must not spin: the decoder needs the cores meanwhile.
		{"session.intra_op.allow_spinning", "0"},
	} {
		k, v := cText(kv[0]), cText(kv[1])
		if err := l.call(ortAddSessionConfig, opts, uintptr(unsafe.Pointer(&k[0])), uintptr(unsafe.Pointer(&v[0]))); err != nil {
			return nil, err
		}
		runtime.KeepAlive(k)
		runtime.KeepAlive(v)
	}
	s := &session{lib: l}
	if err := l.call(ortCreateSessionFromData, l.env, uintptr(unsafe.Pointer(&model[0])), uintptr(len(model)), opts, uintptr(unsafe.Pointer(&s.handle))); err != nil {
		return nil, fmt.Errorf("the network is refused: %w", err)
	}
	runtime.KeepAlive(model)
	var memory uintptr
	if err := l.call(ortCreateCPUMemoryInfo, 0, 0, uintptr(unsafe.Pointer(&memory))); err != nil {
		s.close()
		return nil, err
	}
	defer l.release(ortReleaseMemoryInfo, memory)

	bind := func(p port) (data []float32, name, val uintptr, err error) {
		data = make([]float32, p.elements())
		n := cText(p.name)
		s.names = append(s.names, n)
		dims := make([]int64, len(p.dims))
		for i, d := range p.dims {
			dims[i] = int64(d)
		}
		err = l.call(ortCreateTensorWithData, memory, uintptr(unsafe.Pointer(&data[0])), uintptr(4*len(data)),
			uintptr(unsafe.Pointer(&dims[0])), uintptr(len(dims)), onnxFloat, uintptr(unsafe.Pointer(&val)))
		runtime.KeepAlive(dims)
		return data, uintptr(unsafe.Pointer(&n[0])), val, err
	}
	var err error
	s.inName, s.inValue = new([1]uintptr), new([1]uintptr)
	if s.in, s.inName[0], s.inValue[0], err = bind(in); err != nil {
		s.close()
		return nil, err
	}
	for _, p := range outs {
		d, n, v, err := bind(p)
		if err != nil {
			s.close()
			return nil, err
		}
		s.out, s.outName, s.outVal = append(s.out, d), append(s.outName, n), append(s.outVal, v)
	}
	return s, nil
}

// run computes the outputs from what stands in the input.
func (s *session) run() error {
	err := s.lib.call(ortRun, s.handle, 0, uintptr(unsafe.Pointer(&s.inName[0])), uintptr(unsafe.Pointer(&s.inValue[0])), 1,
		uintptr(unsafe.Pointer(&s.outName[0])), uintptr(len(s.outName)), uintptr(unsafe.Pointer(&s.outVal[0])))
	runtime.KeepAlive(s)
	return err
}

func (s *session) close() {
	if s == nil || s.handle == 0 {
		return
	}
	if s.inValue != nil {
		s.lib.release(ortReleaseValue, s.inValue[0])
	}
	for _, v := range s.outVal {
		s.lib.release(ortReleaseValue, v)
	}
	s.lib.release(ortReleaseSession, s.handle)
	s.handle = 0
}
