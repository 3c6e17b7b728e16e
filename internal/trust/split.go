package trust

import (
	"errors"
	"net"
	"sync"
	"time"
)

// Split tells the connections of a listener apart by their first byte: those that
// begin TLS, and the rest. http and https then share one port, and an address
// that is typed without its beginning still leads to the bench. Closing either
// side closes both.
func Split(ln net.Listener) (plain, secure net.Listener) {
	s := &splitter{Listener: ln, done: make(chan struct{})}
	p := &side{s, make(chan net.Conn)}
	t := &side{s, make(chan net.Conn)}
	go s.accept(p.conns, t.conns)
	return p, t
}

// firstByte is how long a connection may say nothing.
const firstByte = 10 * time.Second

// handshake is the first byte of TLS: a record that holds a handshake (RFC 8446,
// section 5.1). No request of HTTP begins with it.
const handshake = 22

type splitter struct {
	net.Listener
	once   sync.Once
	done   chan struct{}
	failed error // once done
	closed error
}

// stop ends both sides, for the reason that their Accept gives.
func (s *splitter) stop(why error) error {
	s.once.Do(func() {
		s.failed, s.closed = why, s.Listener.Close()
		close(s.done)
	})
	return s.closed
}

func (s *splitter) accept(plain, secure chan<- net.Conn) {
	for wait := time.Duration(0); ; {
		c, err := s.Listener.Accept()
		var some net.Error
		switch {
		case err == nil:
			wait = 0
			go s.sort(c, plain, secure)
			continue
		//lint:ignore SA1019 what net/http does too: too many open files pass
		case errors.As(err, &some) && some.Temporary():
			wait = min(2*wait+5*time.Millisecond, time.Second)
			time.Sleep(wait)
		default:
			_ = s.stop(err) // Accept's error says more
			return
		}
	}
}

func (s *splitter) sort(c net.Conn, plain, secure chan<- net.Conn) {
	var first [1]byte
	err := c.SetReadDeadline(time.Now().Add(firstByte))
	if err == nil {
		_, err = c.Read(first[:])
	}
	if err == nil {
		err = c.SetReadDeadline(time.Time{})
	}
	if err != nil {
		c.Close()
		return
	}
	to := plain
	if first[0] == handshake {
		to = secure
	}
	select {
	case to <- &begun{Conn: c, first: first[:]}:
	case <-s.done:
		c.Close()
	}
}

// side is one of the two listeners.
type side struct {
	*splitter
	conns chan net.Conn
}

func (l *side) Accept() (net.Conn, error) {
	select {
	case c := <-l.conns:
		return c, nil
	case <-l.done:
		return nil, l.failed
	}
}

func (l *side) Close() error { return l.stop(net.ErrClosed) }

// begun is a connection whose first byte was read.
type begun struct {
	net.Conn
	first []byte
}

func (c *begun) Read(p []byte) (int, error) {
	if len(c.first) > 0 && len(p) > 0 {
		n := copy(p, c.first)
		c.first = c.first[n:]
		return n, nil
	}
	return c.Conn.Read(p)
}
