// Package server is a language server for water journals: what the linter finds
// while a record is typed, what a value means, what can be here. It speaks
// the Language Server Protocol 3.17 over the packages that wj lint uses, lays
// what the editor has not saved over the files, and never writes a file.
//
//	clean, err := server.Serve(ctx, os.Stdin, os.Stdout, server.Options{Version: version})
package server

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"runtime/debug"
	"slices"
	"sync"
	"time"
	"wj/journal"
	"wj/journal/evidence"
)

// Options are what the server is given.
type Options struct {
	Version string           // of the program, told to the client
	Now     func() time.Time // what dates are judged by; time.Now if nil
	Pause   time.Duration    // how long typing must rest before it is judged; 0: 150 ms
	// Mainline reads what sign-offs of a journal are judged by; close lets it go.
	// Nil: the journal's own people and policy.
	Mainline func(j *journal.Journal, root string) (facts evidence.Facts, close func())
	Pages    string    // where the pages of wj explain --site are; "": nowhere
	Trace    io.Writer // gets the stack of a fault; nil: nobody does
}

// Server is one connection.
type server struct {
	opt     Options
	wire    *wire
	pending chan struct{} // holds one entry while something is not judged

	judging sync.Mutex // held while the journals are judged
	mu      sync.Mutex // guards what follows
	places  map[string]*workspace
	docs    map[string]*document // by URI

	initialized, shutdown bool
	documentChanges       bool
	renames, related      bool // what the client can do: files renamed in an edit, places shown with a finding
	watch                 bool
}

// Serve reads requests from in and answers on out until the client says exit or
// the connection ends. clean says whether the client had asked for shutdown
// first, as LSP wants it. The error is that of reading or writing.
func Serve(ctx context.Context, in io.Reader, out io.Writer, opt Options) (clean bool, err error) {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Pause == 0 {
		opt.Pause = 150 * time.Millisecond
	}
	s := &server{opt: opt, wire: newWire(in, out), pending: make(chan struct{}, 1), places: map[string]*workspace{}, docs: map[string]*document{}}
	ctx, stop := context.WithCancel(ctx)
	var background sync.WaitGroup
	background.Go(func() { s.judgeWhenQuiet(ctx) })
	defer background.Wait()
	defer stop()
	// Read aside, so that an interrupt does not wait for the client.
	messages := make(chan received)
	go func() {
		for {
			var r received
			r.m, r.err = s.wire.read()
			select {
			case messages <- r:
			case <-ctx.Done():
				return
			}
		}
	}()
	for {
		var r received
		select {
		case <-ctx.Done():
			return s.shutdown, nil
		case r = <-messages:
		}
		var unusable *responseError
		switch {
		case errors.As(r.err, &unusable):
			s.wire.reply(nil, nil, unusable)
			continue
		case errors.Is(r.err, io.EOF):
			return s.shutdown, s.wire.failed()
		case r.err != nil:
			return s.shutdown, r.err
		case r.m.Method == "exit":
			return s.shutdown, nil
		}
		s.handle(r.m)
		if err := s.wire.failed(); err != nil {
			return s.shutdown, err
		}
	}
}

// received is a message, or why there is none.
type received struct {
	m   message
	err error
}

// handle answers one message. A fault in an answer is reported to the client and
// ends nothing.
func (s *server) handle(m message) {
	defer func() {
		if p := recover(); p != nil {
			if s.opt.Trace != nil {
				_, _ = s.opt.Trace.Write(debug.Stack())
			}
			if len(m.ID) > 0 {
				s.wire.reply(m.ID, nil, failure(codeInternal, "this is a fault in wj itself: %v", p))
			}
		}
	}()
	isRequest := len(m.ID) > 0 && string(m.ID) != "null"
	switch {
	case m.Method == "" && isRequest:
		return // an answer to a request of ours
	case m.Method == "":
		s.wire.reply(nil, nil, failure(codeInvalidRequest, "the message names no method"))
		return
	case isRequest && m.ID[0] != '"' && m.ID[0] != '-' && (m.ID[0] < '0' || m.ID[0] > '9'):
		s.wire.reply(nil, nil, failure(codeInvalidRequest, "the id of %s is neither a number nor a string", m.Method))
		return
	}
	var result any
	var err error
	switch {
	case !s.initialized && m.Method != "initialize":
		err = failure(codeNotInitialized, "%s came before initialize", m.Method)
	case s.shutdown:
		err = failure(codeInvalidRequest, "%s came after shutdown", m.Method)
	default:
		result, err = s.answer(m)
	}
	if isRequest {
		s.wire.reply(m.ID, result, err)
	} else if err != nil && s.initialized {
		s.log(err.Error())
	}
}

// log tells the client what went wrong where there is nobody to answer.
func (s *server) log(text string) {
	s.wire.notify("window/logMessage", map[string]any{"type": severityWarning, "message": "wj: " + text})
}

// answer does what a message asks.
func (s *server) answer(m message) (any, error) {
	switch m.Method {
	case "initialize":
		return s.initialize(m)
	case "initialized":
		if s.watch {
			s.wire.write(notification{Version: "2.0", ID: "watch", Method: "client/registerCapability", Params: watchFiles})
		}
		return nil, nil
	case "shutdown":
		s.shutdown = true
		return nil, nil
	case "textDocument/didOpen":
		return nil, with(m, s.didOpen)
	case "textDocument/didChange":
		return nil, with(m, s.didChange)
	case "textDocument/didSave":
		return nil, with(m, s.didSave)
	case "workspace/didChangeWatchedFiles":
		return nil, with(m, s.didChangeWatchedFiles)
	case "workspace/didChangeConfiguration":
		s.changed()
		return nil, nil
	case "textDocument/didClose":
		return nil, with(m, s.didClose)
	case "textDocument/hover":
		return ask(m, s.hover)
	case "textDocument/completion":
		return ask(m, s.completion)
	case "textDocument/definition":
		return ask(m, s.definition)
	case "textDocument/references":
		return ask(m, s.references)
	case "textDocument/prepareRename":
		return ask(m, s.prepareRename)
	case "textDocument/rename":
		return ask(m, s.rename)
	case "textDocument/documentSymbol":
		return ask(m, s.documentSymbols)
	case "workspace/symbol":
		return ask(m, s.workspaceSymbols)
	case "textDocument/foldingRange":
		return ask(m, s.foldingRanges)
	case "textDocument/inlayHint":
		return ask(m, s.inlayHints)
	case "textDocument/codeLens":
		return ask(m, s.codeLenses)
	case "textDocument/formatting":
		return ask(m, s.formatting)
	case "textDocument/semanticTokens/full", "textDocument/semanticTokens/range":
		return ask(m, s.semanticTokens)
	case "textDocument/codeAction":
		return ask(m, s.codeAction)
	}
	if len(m.ID) == 0 {
		return nil, nil // LSP: a notification that is not known is passed over
	}
	return nil, failure(codeMethodNotFound, "%s is not supported", m.Method)
}

func with[P any](m message, do func(P) error) error {
	p, err := decode[P](m)
	if err != nil {
		return err
	}
	return do(p)
}

func ask[P, R any](m message, do func(P) (R, error)) (any, error) {
	p, err := decode[P](m)
	if err != nil {
		return nil, err
	}
	return do(p)
}

// watchFiles asks the client to tell when other files of a journal change.
var watchFiles = json.RawMessage(`{"registrations":[{"id":"journal","method":"workspace/didChangeWatchedFiles","registerOptions":{"watchers":[{"globPattern":"**/*.md"},{"globPattern":"**/wj.yaml"}]}}]}`)

func (s *server) initialize(m message) (any, error) {
	if s.initialized {
		return nil, failure(codeInvalidRequest, "initialize came twice")
	}
	p, err := decode[initializeParams](m)
	if err != nil {
		return nil, err
	}
	s.initialized = true
	s.documentChanges = p.Capabilities.Workspace.WorkspaceEdit.DocumentChanges
	s.renames = slices.Contains(p.Capabilities.Workspace.WorkspaceEdit.ResourceOperations, "rename")
	s.related = p.Capabilities.TextDocument.PublishDiagnostics.RelatedInformation
	s.watch = p.Capabilities.Workspace.DidChangeWatchedFiles.DynamicRegistration
	type object map[string]any
	return object{
		"serverInfo": object{"name": "wj", "version": s.opt.Version},
		"capabilities": object{
			"positionEncoding":           "utf-16",
			"textDocumentSync":           object{"openClose": true, "change": 2, "save": object{"includeText": false}},
			"hoverProvider":              true,
			"definitionProvider":         true,
			"completionProvider":         object{"triggerCharacters": []string{":", " ", "{", "[", ","}},
			"codeActionProvider":         object{"codeActionKinds": []string{kindQuickFix, kindRewrite, kindFixAll}},
			"referencesProvider":         true,
			"renameProvider":             object{"prepareProvider": true},
			"documentSymbolProvider":     true,
			"workspaceSymbolProvider":    true,
			"foldingRangeProvider":       true,
			"inlayHintProvider":          true,
			"codeLensProvider":           object{"resolveProvider": false},
			"documentFormattingProvider": true,
			"semanticTokensProvider":     object{"legend": object{"tokenTypes": tokenTypes, "tokenModifiers": []string{}}, "full": true, "range": true},
		},
	}, nil
}
