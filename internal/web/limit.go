package web

import (
	"errors"
	"io"
	"net/http"
	"strconv"
	"time"
)

// mostDrained is how much of a body that is too large is still taken and thrown
// away: a browser reads no answer before it has sent what it sends.
const mostDrained = 256 << 20

// limitBody lets most bytes of a body through, and takes the rest to no use, so that
// the sentence about it is read.
func limitBody(w http.ResponseWriter, r *http.Request, most int64) {
	r.Body = &limitedBody{ReadCloser: r.Body, w: w, most: most, left: most + 1}
}

type limitedBody struct {
	io.ReadCloser
	w          http.ResponseWriter
	most, left int64
	err        error
}

func (b *limitedBody) Read(p []byte) (int, error) {
	if b.err != nil {
		return 0, b.err
	}
	n, err := b.ReadCloser.Read(p[:min(int64(len(p)), b.left)])
	b.left -= int64(n)
	b.err = err
	if b.left > 0 {
		return n, err
	}
	b.err = &http.MaxBytesError{Limit: b.most}
	if _, err := io.CopyN(io.Discard, b.ReadCloser, mostDrained); err == nil {
		b.w.Header().Set("Connection", "close") // there is more of it
	}
	return max(0, n-1), b.err
}

// pace is how slowly an upload may come: a phone at the far end of the house is
// slow, and one that has gone must not hold its connection.
type pace struct {
	stall time.Duration // nothing at all
	grace time.Duration // by which all may be late
	rate  float64       // bytes a second
}

var usualPace = pace{stall: 45 * time.Second, grace: 2 * time.Minute, rate: 4096}

// pacedBody ends an upload that comes more slowly than its pace. Only the time that
// it waits for the sender counts.
type pacedBody struct {
	io.ReadCloser
	pace
	control *http.ResponseController
	waited  time.Duration
	got     int64
}

func (s *Server) pacedUpload(w http.ResponseWriter, r *http.Request) {
	r.Body = &pacedBody{ReadCloser: r.Body, pace: s.pace, control: http.NewResponseController(w)}
}

func (b *pacedBody) Read(p []byte) (int, error) {
	began := time.Now()
	due := b.grace + time.Duration(float64(b.got)/b.rate*float64(time.Second)) - b.waited
	// The time may not be settable on a connection that is not a socket.
	_ = b.control.SetReadDeadline(began.Add(min(b.stall, due)))
	n, err := b.ReadCloser.Read(p)
	b.waited += time.Since(began)
	b.got += int64(n)
	if errors.Is(err, io.EOF) {
		// The server listens on for whether the browser is there while the photographs
		// are looked at.
		_ = b.control.SetReadDeadline(began.Add(uploadTime))
	}
	return n, err
}

// tooLarge says how much a page takes.
func tooLarge(e *http.MaxBytesError) string {
	most := strconv.FormatInt(e.Limit>>20, 10) + " MB"
	if e.Limit < 1<<20 {
		most = strconv.FormatInt(e.Limit>>10, 10) + " kB"
	}
	return "What was sent is larger than this page takes, which is " + most + ": nothing was saved."
}
