package video

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

// containers are the formats ffprobe and ffmpeg may use: those which hold their
// own frames. Playlists, lists of files, scripts, streams from the net and
// capture devices are not among them.
const containers = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,mpegvideo,m4v,h264,hevc,obu,ivf," +
	"mjpeg,mjpeg_2000,ogg,asf,flv,mxf,dv,nut,gxf,wtv,rm,gif,yuv4mpegpipe,apng,vvc," +
	"wav,w64,mp3,aac,flac,aiff,caf,amr,ac3"

// guarded are the input options that keep a hostile file from reaching anything
// but itself.
func guarded() []string {
	return []string{"-protocol_whitelist", "file,pipe", "-format_whitelist", containers}
}

// check looks at the file itself before any child does: that it is there, is a
// file, is not empty and does not start like something that is no film.
func check(path string) (size int64, err error) {
	if path == "" || strings.ContainsRune(path, 0) {
		return 0, &Error{File: path, What: "that is no file name", Mend: "give the path of a film", Kind: ErrMissing}
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		e := &Error{File: path, What: "there is no such file", Mend: "check the name and the folder", Kind: ErrMissing, Cause: err}
		if strings.Contains(path, "://") {
			e.What, e.Mend = "addresses are not opened, only files on this computer", "download the film first and give its path"
		}
		return 0, e
	case err != nil:
		return 0, &Error{File: path, What: "the file cannot be reached", Mend: "check the name and the access rights", Kind: ErrMissing, Cause: err}
	case info.IsDir():
		return 0, &Error{File: path, What: "this is a folder, not a film", Mend: "give the film inside it", Kind: ErrNotVideo}
	case !info.Mode().IsRegular():
		return 0, &Error{File: path, What: "this is not an ordinary file", Mend: "give a film stored on a disk", Kind: ErrNotVideo}
	case info.Size() == 0:
		return 0, &Error{File: path, What: "the file is empty (0 bytes)",
			Mend: "the copy did not arrive; copy it again from the phone, and wait until the copy is finished", Kind: ErrEmpty}
	}
	f, err := os.Open(path)
	if err != nil {
		return 0, &Error{File: path, What: "the file may not be read", Mend: "check its access rights", Kind: ErrMissing, Cause: err}
	}
	defer f.Close()
	head := make([]byte, 512)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		return 0, &Error{File: path, What: "the file cannot be read", Mend: "check the disk, or copy the film again", Kind: ErrMissing, Cause: err}
	}
	if e := sniff(head[:n], filepath.Ext(path)); e != nil {
		e.File = path
		return 0, e
	}
	return info.Size(), nil
}

// sniff recognises what is no film by its first bytes; ext is the extension of
// its name.
func sniff(head []byte, ext string) *Error {
	still := func(kind string) *Error {
		return &Error{What: "this is a still picture (" + kind + "), and gait needs a film", Mend: "give the film, MP4 or MOV, from the phone", Kind: ErrStill}
	}
	switch {
	case bytes.HasPrefix(head, []byte("\x89PNG\r\n\x1a\n")) && !bytes.Contains(head, []byte("acTL")):
		return still("PNG")
	case bytes.HasPrefix(head, []byte{0xff, 0xd8, 0xff}) && !strings.HasPrefix(strings.ToLower(ext), ".mj"): // not a stream of JPEG pictures
		return still("JPEG")
	case bytes.HasPrefix(head, []byte("BM")) && len(head) > 14 && bytes.Equal(head[6:10], make([]byte, 4)):
		return still("BMP")
	case bytes.HasPrefix(head, []byte("II*\x00")), bytes.HasPrefix(head, []byte("MM\x00*")):
		return still("TIFF")
	case bytes.HasPrefix(head, []byte("RIFF")) && len(head) >= 12 && string(head[8:12]) == "WEBP":
		return still("WebP")
	case len(head) >= 12 && string(head[4:8]) == "ftyp" && stillBrands[string(head[8:12])]:
		return still("HEIC or AVIF")
	case bytes.HasPrefix(head, []byte("%PDF")):
		return notFilm("this is a PDF document")
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return &Error{What: "this is a ZIP archive", Mend: "unpack it and give the film inside", Kind: ErrNotVideo}
	case bytes.HasPrefix(head, []byte("#EXTM3U")), bytes.HasPrefix(head, []byte("ffconcat")), bytes.HasPrefix(head, []byte("[playlist]")):
		return &Error{What: "this is a list that points to other files, which are not opened", Mend: "give the film itself", Kind: ErrNotVideo}
	case isText(head) && !bytes.HasPrefix(head, []byte("YUV4MPEG2")):
		return notFilm("this is a text file")
	case bytes.Equal(head, make([]byte, len(head))):
		return &Error{What: "the file starts with nothing but zeros; it was not written to the end",
			Mend: "copy it again from the phone, and wait until the copy is finished", Kind: ErrTruncated}
	}
	return nil
}

func notFilm(what string) *Error {
	return &Error{What: what + ", not a film", Mend: "give the film, MP4 or MOV, from the phone", Kind: ErrNotVideo}
}

// stillBrands are the major brands of files with one picture (ISO/IEC 23008-12
// and the AVIF specification; from memory).
var stillBrands = map[string]bool{"heic": true, "heix": true, "heim": true, "heis": true, "mif1": true, "avif": true}

// isText tells whether the bytes are readable text: UTF-8 (but for a rune cut
// off at the end) without control characters.
func isText(head []byte) bool {
	if len(head) < 4 {
		return utf8.Valid(head)
	}
	for i := 0; i < len(head); {
		r, n := utf8.DecodeRune(head[i:])
		if r == utf8.RuneError && n == 1 {
			return len(head)-i < utf8.UTFMax && len(head) == 512
		}
		if r < ' ' && r != '\n' && r != '\r' && r != '\t' && r != '\f' || r == 0x7f {
			return false
		}
		i += n
	}
	return true
}

// startsLikeMP4 tells whether the file starts with an atom of the MP4 and
// QuickTime family.
func startsLikeMP4(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	var head [8]byte
	if _, err := io.ReadFull(f, head[:]); err != nil {
		return false
	}
	switch string(head[4:]) {
	case "ftyp", "moov", "mdat", "free", "skip", "wide", "pnot", "uuid", "moof", "styp":
		return true
	}
	return false
}
