package web

import (
	"context"
	"io"
	"net"
	"net/http"
	"testing"
	"time"
)

// TestServeLetsWorkFinish stops the server while a request is under way.
func TestServeLetsWorkFinish(t *testing.T) {
	s, _ := newServer(t)
	under, finish := make(chan struct{}), make(chan struct{})
	inner := s.handler
	s.handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/slow" {
			close(under)
			<-finish
			io.WriteString(w, "whole")
			return
		}
		inner.ServeHTTP(w, r)
	})
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stopped := make(chan error, 1)
	go func() { stopped <- s.Serve(ctx, ln) }()
	got := make(chan string, 1)
	go func() {
		resp, err := http.Get("http://" + ln.Addr().String() + "/slow")
		if err != nil {
			got <- err.Error()
			return
		}
		defer resp.Body.Close()
		body, _ := io.ReadAll(resp.Body) // what came is compared below
		got <- string(body)
	}()
	<-under
	stop()
	time.Sleep(20 * time.Millisecond) // let the shutdown begin
	close(finish)
	if body := <-got; body != "whole" {
		t.Errorf("the request under way got %q, want it whole", body)
	}
	select {
	case err := <-stopped:
		if err != nil {
			t.Errorf("Serve ended with %v, want nil", err)
		}
	case <-time.After(15 * time.Second):
		t.Fatal("the server does not stop")
	}
	if _, err := http.Get("http://" + ln.Addr().String() + "/"); err == nil {
		t.Error("the server still answers")
	}
}
