package web

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"

	"benchleaf/internal/record"
)

// sendPhotos posts files to a case as one form.
func sendPhotos(
	t *testing.T,
	s *Server,
	id record.CaseID,
	fields map[string]string,
	files map[string][]byte,
) *httptest.ResponseRecorder {
	t.Helper()
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	for k, v := range map[string]string{"by": "KM", "seq": "1", "stage": "arrival", "light": "normal", "key": record.NewID(s.now())} {
		if _, other := fields[k]; !other {
			m.WriteField(k, v)
		}
	}
	for k, v := range fields {
		m.WriteField(k, v)
	}
	for name, data := range files {
		w, err := m.CreateFormFile("photo", name)
		if err != nil {
			t.Fatal(err)
		}
		w.Write(data)
	}
	m.Close()
	r := request(
		"POST",
		casePath(id, "photos"),
		nil,
		header("Content-Type", m.FormDataContentType()),
		header("Sec-Fetch-Site", "same-origin"),
	)
	r.Body = io.NopCloser(&body)
	return answerTo(s, r)
}

func aJPEG(t *testing.T, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, w, h)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// aBomb is a PNG whose header claims 30000 by 30000 pixels and holds none
// (layout of chunks: PNG specification, third edition, section 11.2).
func aBomb() []byte {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	chunk := func(kind string, data []byte) {
		binary.Write(&b, binary.BigEndian, uint32(len(data)))
		c := append([]byte(kind), data...)
		b.Write(c)
		binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(c))
	}
	head := binary.BigEndian.AppendUint32(nil, 30000)
	head = binary.BigEndian.AppendUint32(head, 30000)
	chunk("IHDR", append(head, 8, 2, 0, 0, 0))
	chunk("IDAT", nil)
	chunk("IEND", nil)
	return b.Bytes()
}

func TestBadPhotographsAreRefusedByNameAndLeaveNothing(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	good := aJPEG(t, 400, 300)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	program, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"empty.jpg": {}, "cut.jpg": good[:len(good)/2], "program.jpg": program[:1<<16], "text.png": []byte("not a picture"), "bomb.png": aBomb()} {
		w := sendPhotos(t, s, id, nil, map[string][]byte{name: data})
		if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), name+": ") {
			t.Errorf("%s: %d; want a refusal that names it", name, w.Code)
		}
	}
	c, err := s.store.Case(t.Context(), id)
	if err != nil || c.LastSeq != 1 {
		t.Errorf("the journal has %d entries, %v; want the first alone", c.LastSeq, err)
	}
	r, err := s.store.Verify(t.Context())
	if err != nil || !r.Clean() || r.Photographs != 0 {
		t.Errorf("%+v, %v; want no photograph to stay", r, err)
	}
}

func TestGoodPhotographsOfAFormAreKeptBesideBadOnes(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	good := aJPEG(t, 400, 300)
	w := sendPhotos(t, s, id, nil, map[string][]byte{"good.jpg": good, "bad.jpg": good[:100]})
	if w.Code != http.StatusSeeOther {
		t.Fatalf("%d; want on to the photographs", w.Code)
	}
	c, _ := s.store.Case(t.Context(), id)
	if len(c.Photos) != 1 || c.Photos[0].Body.WidthPx != 400 || c.Photos[0].Body.FileName != "good.jpg" {
		t.Fatalf("photographs %+v, want the good one", c.Photos)
	}
	// The very same file again is not taken twice at the same place and stage.
	w = sendPhotos(t, s, id, map[string]string{"seq": "2"}, map[string][]byte{"again.jpg": good})
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "in the record already") {
		t.Errorf("%d; want to be told that it is there", w.Code)
	}
	// The original comes back bit for bit, and a size for the screen is made.
	h := c.Photos[0].Body.Hash.String()
	if got := answerTo(s, request("GET", "/photos/"+h+"/original?format=jpeg", nil)); !bytes.Equal(
		got.Body.Bytes(),
		good,
	) ||
		!strings.HasPrefix(got.Header().Get("Content-Disposition"), "attachment") {
		t.Error("the original did not come back as it was sent, to be saved")
	}
	small := answerTo(s, request("GET", "/photos/"+h+"/small", nil))
	if cfg, err := jpeg.DecodeConfig(small.Body); err != nil || cfg.Width != 320 {
		t.Errorf("the small size: %+v, %v; want 320 px wide", cfg, err)
	}
	for _, path := range []string{"/photos/" + h + "/huge", "/photos/" + strings.Repeat("0", 64) + "/small", "/photos/../../etc/passwd/small", "/photos/x/small"} {
		if got := answerTo(s, request("GET", path, nil)); got.Code == http.StatusOK {
			t.Errorf("%s gives something", path)
		}
	}
}

func TestPhotographsNeedAFileAndAWholeForm(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	if w := sendPhotos(t, s, id, nil, nil); w.Code != http.StatusUnprocessableEntity ||
		!strings.Contains(w.Body.String(), "No photograph is chosen") {
		t.Errorf("an empty form: %d", w.Code)
	}
	r := request(
		"POST",
		casePath(id, "photos"),
		nil,
		header("Content-Type", "multipart/form-data; boundary=x"),
		header("Sec-Fetch-Site", "same-origin"),
	)
	r.Body = io.NopCloser(
		strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.jpg\"\r\n\r\nbroken o"),
	)
	if w := answerTo(s, r); w.Code != http.StatusUnprocessableEntity ||
		!strings.Contains(w.Body.String(), "connection ended") {
		t.Errorf("a broken connection: %d", w.Code)
	}
	if r, err := s.store.Verify(t.Context()); err != nil || r.Photographs != 0 {
		t.Errorf("%d photographs stayed, %v", r.Photographs, err)
	}
}

// A form with photographs whose answer was lost, sent again to a bench that was
// started anew, is answered as it was and not as photographs that are there already.
func TestPhotographsSentAgainAfterARestartAreAnsweredAsThen(t *testing.T) {
	dir := t.TempDir()
	s, _ := serverOn(t, dir)
	id := openCase(t, s)
	earlier, new := aJPEG(t, 30, 20), aJPEG(t, 40, 20)
	fields := func(key string) map[string]string { return map[string]string{"key": key, "stage": "arrival"} }
	first, second := record.NewID(s.now()), record.NewID(s.now())
	sendPhotos(t, s, id, fields(first), map[string][]byte{"a.jpg": earlier})
	both := map[string][]byte{"a.jpg": earlier, "b.jpg": new}
	then := sendPhotos(t, s, id, fields(second), both)
	s.Close()
	s.store.Close()
	s, _ = serverOn(t, dir)
	again := sendPhotos(t, s, id, fields(second), both)
	if then.Code != http.StatusSeeOther || again.Code != then.Code {
		t.Errorf("first answered %d, again %d, want %d both times", then.Code, again.Code, http.StatusSeeOther)
	}
	if other := sendPhotos(t, s, id, fields(record.NewID(s.now())), both); other.Code != http.StatusUnprocessableEntity {
		t.Errorf("another form with the same photographs is answered %d, want that they are there", other.Code)
	}
	c, err := s.store.Case(t.Context(), id)
	if err != nil || len(c.Photos) != 2 {
		t.Errorf("%d photographs, %v; want 2", len(c.Photos), err)
	}
}
