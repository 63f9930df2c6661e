package server

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
)

// maxBody is the largest message that is read. A record has at most 256 KiB;
// other files that an editor may open are larger.
const maxBody = 16 << 20

// Error codes of JSON-RPC 2.0, section 5.1, and of the Language Server
// Protocol 3.17, "Response Message".
const (
	codeParse          = -32700
	codeInvalidRequest = -32600
	codeMethodNotFound = -32601
	codeInvalidParams  = -32602
	codeInternal       = -32603
	codeNotInitialized = -32002
	codeRequestFailed  = -32803
)

// responseError is the error object of a response.
type responseError struct {
	Code    int    `json:"code"`
	Message string `json:"message"`
}

func (e *responseError) Error() string { return e.Message }

func failure(code int, format string, args ...any) *responseError {
	return &responseError{code, fmt.Sprintf(format, args...)}
}

// message is what comes in: a request, a notification (no ID) or a response
// (no Method).
type message struct {
	ID     json.RawMessage `json:"id"`
	Method string          `json:"method"`
	Params json.RawMessage `json:"params"`
}

// wire reads and writes messages in the base protocol of LSP 3.17: a header
// with Content-Length, a blank line, a body of JSON-RPC 2.0.
type wire struct {
	in  *bufio.Reader
	mu  sync.Mutex
	out io.Writer
	err error // of the first write that failed
}

func newWire(in io.Reader, out io.Writer) *wire {
	return &wire{in: bufio.NewReaderSize(in, 4096), out: out}
}

// read gives the next message. A *responseError is a message that cannot be
// used, after which the next one can be read; other errors end the connection.
func (w *wire) read() (message, error) {
	var m message
	length, err := w.header()
	if err != nil {
		return m, err
	}
	if length > maxBody {
		if _, err := io.CopyN(io.Discard, w.in, length); err != nil {
			return m, io.ErrUnexpectedEOF
		}
		return m, failure(codeInvalidRequest, "the message has %d bytes, and at most %d are read", length, maxBody)
	}
	// Not made as large as announced before it is there.
	var body bytes.Buffer
	if n, _ := io.Copy(&body, io.LimitReader(w.in, length)); n < length {
		return m, io.ErrUnexpectedEOF
	}
	if err := json.Unmarshal(body.Bytes(), &m); err != nil {
		var kind *json.UnmarshalTypeError
		if errors.As(err, &kind) {
			return m, failure(codeInvalidRequest, "the message is no request object: %v", err)
		}
		return m, failure(codeParse, "the message is no JSON: %v", err)
	}
	return m, nil
}

// header reads header fields up to the blank line and gives the length of the
// body.
func (w *wire) header() (int64, error) {
	length := int64(-1)
	for seen := false; ; {
		line, err := w.in.ReadSlice('\n')
		for errors.Is(err, bufio.ErrBufferFull) { // no header field is so long: pass over it
			line = nil
			_, err = w.in.ReadSlice('\n')
		}
		if err != nil {
			if len(line) == 0 && !seen {
				return 0, io.EOF
			}
			return 0, io.ErrUnexpectedEOF
		}
		text := strings.TrimSpace(string(line))
		if text == "" && line != nil {
			if length >= 0 {
				return length, nil
			}
			if seen {
				return 0, failure(codeParse, "a header without a Content-Length")
			}
			continue
		}
		seen = true
		name, value, _ := strings.Cut(text, ":")
		if strings.EqualFold(strings.TrimSpace(name), "Content-Length") {
			if n, err := strconv.ParseInt(strings.TrimSpace(value), 10, 64); err == nil && n >= 0 {
				length = n
			}
		}
	}
}

// write sends one message.
func (w *wire) write(v any) {
	body, err := json.Marshal(v)
	if err != nil {
		return // only our own types are written, and they can be
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.err != nil {
		return
	}
	_, w.err = fmt.Fprintf(w.out, "Content-Length: %d\r\n\r\n%s", len(body), body)
}

// failed is the error of the first write that failed.
func (w *wire) failed() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.err
}

type response struct {
	Version string          `json:"jsonrpc"`
	ID      json.RawMessage `json:"id"`
	Result  any             `json:"result"`
}

type errorResponse struct {
	Version string          `json:"jsonrpc"`
	ID      json.RawMessage `json:"id"`
	Error   *responseError  `json:"error"`
}

type notification struct {
	Version string `json:"jsonrpc"`
	ID      string `json:"id,omitempty"` // of a request to the client
	Method  string `json:"method"`
	Params  any    `json:"params"`
}

// reply answers a request.
func (w *wire) reply(id json.RawMessage, result any, err error) {
	if len(id) == 0 {
		id = json.RawMessage("null")
	}
	if err == nil {
		w.write(response{"2.0", id, result})
		return
	}
	var known *responseError
	if !errors.As(err, &known) {
		known = failure(codeInternal, "%v", err)
	}
	w.write(errorResponse{"2.0", id, known})
}

// notify tells the client something.
func (w *wire) notify(method string, params any) {
	w.write(notification{Version: "2.0", Method: method, Params: params})
}
