package trust

import (
	"context"
	"errors"
	"fmt"
	"net"
	"regexp"
	"sync"
	"time"

	"github.com/pion/logging"
	"github.com/pion/mdns/v2"
	"golang.org/x/net/dns/dnsmessage"
	"golang.org/x/net/ipv4"
	"golang.org/x/net/ipv6"
)

// Named answers to a name under .local (multicast DNS, RFC 6762), so that a device
// finds the bench though its address changes. Networks and systems that pass no
// multicast on leave the addresses alone to go by.
type Named struct {
	name string

	mu   sync.Mutex
	conn *mdns.Conn // nil while nothing answers
	why  error      // why nothing does
}

var label = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?$`)

// CheckName says what is wrong with a name for the bench, without its .local.
func CheckName(name string) error {
	if !label.MatchString(name) {
		return fmt.Errorf("%q cannot be the bench's name in the network: letters a to z, figures and hyphens are "+
			"expected, as in studio-two", name)
	}
	return nil
}

// askedFor is how long another bench of the same name has to answer.
const askedFor = 1500 * time.Millisecond

// Answer begins to answer to name.local, in the background, unless another machine
// does. Close it.
func Answer(ctx context.Context, name string) *Named {
	n := &Named{name: name + ".local", why: errors.New("it is just starting")}
	go func() {
		conn, err := n.begin(ctx)
		n.mu.Lock()
		defer n.mu.Unlock()
		if n.why == nil && conn != nil { // closed meanwhile
			err = errors.Join(err, conn.Close())
			conn = nil
		}
		n.conn, n.why = conn, err
	}()
	return n
}

func (n *Named) begin(ctx context.Context) (*mdns.Conn, error) {
	asking, err := multicast()
	if err != nil {
		return nil, err
	}
	ask, cancel := context.WithTimeout(ctx, askedFor)
	_, taken, err := asking.QueryAddr(ask, n.name)
	cancel()
	if err == nil && !ours(taken.Unmap().String()) {
		return nil, errors.Join(fmt.Errorf("the machine at %s answers to %s already: give this bench a --name of its "+
			"own", taken, n.name), asking.Close())
	}
	if err := asking.Close(); err != nil {
		return nil, err
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return multicast(mdns.WithLocalNames(n.name))
}

func ours(addr string) bool {
	list, err := net.InterfaceAddrs()
	if err != nil {
		return false
	}
	for _, a := range list {
		if n, ok := a.(*net.IPNet); ok && n.IP.String() == addr {
			return true
		}
	}
	return false
}

// multicast opens the ports of multicast DNS; it is enough that one of the two
// versions of IP has it.
func multicast(options ...mdns.ServerOption) (*mdns.Conn, error) {
	var four *ipv4.PacketConn
	var six *ipv6.PacketConn
	c4, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(224, 0, 0, 251), Port: 5353})
	if err == nil {
		four = ipv4.NewPacketConn(c4)
	}
	c6, err6 := net.ListenUDP("udp6", &net.UDPAddr{IP: net.ParseIP("ff02::fb"), Port: 5353})
	if err6 == nil {
		six = ipv6.NewPacketConn(c6)
	}
	if four == nil && six == nil {
		return nil, errors.Join(err, err6)
	}
	quiet := logging.NewDefaultLoggerFactory()
	quiet.DefaultLogLevel = logging.LogLevelDisabled
	options = append(options,
		mdns.WithRecordTypes(dnsmessage.TypeA, dnsmessage.TypeAAAA), mdns.WithLoggerFactory(quiet))
	conn, err := mdns.NewServer(four, six, options...)
	if err != nil {
		if c4 != nil {
			err = errors.Join(err, c4.Close())
		}
		if c6 != nil {
			err = errors.Join(err, c6.Close())
		}
		return nil, err
	}
	return conn, nil
}

// Now is the name that answers, as in benchleaf.local; or none, and why.
func (n *Named) Now() (name string, why error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.conn == nil {
		return "", n.why
	}
	return n.name, nil
}

// Close stops answering.
func (n *Named) Close() error {
	n.mu.Lock()
	defer n.mu.Unlock()
	conn := n.conn
	n.conn, n.why = nil, nil
	if conn == nil {
		return nil
	}
	return conn.Close()
}
