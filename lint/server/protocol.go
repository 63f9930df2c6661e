package server

import "encoding/json"

// The parts of the Language Server Protocol 3.17 that are used.

type textDocument struct {
	URI string `json:"uri"`
}

type initializeParams struct {
	Capabilities struct {
		Workspace struct {
			WorkspaceEdit struct {
				DocumentChanges    bool     `json:"documentChanges"`
				ResourceOperations []string `json:"resourceOperations"`
			} `json:"workspaceEdit"`
			DidChangeWatchedFiles struct {
				DynamicRegistration bool `json:"dynamicRegistration"`
			} `json:"didChangeWatchedFiles"`
		} `json:"workspace"`
		TextDocument struct {
			PublishDiagnostics struct {
				RelatedInformation bool `json:"relatedInformation"`
			} `json:"publishDiagnostics"`
		} `json:"textDocument"`
	} `json:"capabilities"`
}

type didOpenParams struct {
	TextDocument struct {
		URI     string `json:"uri"`
		Version int    `json:"version"`
		Text    string `json:"text"`
	} `json:"textDocument"`
}

type didChangeParams struct {
	TextDocument struct {
		URI     string `json:"uri"`
		Version int    `json:"version"`
	} `json:"textDocument"`
	ContentChanges []struct {
		Range *span  `json:"range"`
		Text  string `json:"text"`
	} `json:"contentChanges"`
}

type documentParams struct {
	TextDocument textDocument `json:"textDocument"`
}

type positionParams struct {
	TextDocument textDocument `json:"textDocument"`
	Position     position     `json:"position"`
}

type codeActionParams struct {
	TextDocument textDocument `json:"textDocument"`
	Range        span         `json:"range"`
	Context      struct {
		Only []string `json:"only"`
	} `json:"context"`
}

// Severities of a diagnostic.
const (
	severityError = iota + 1
	severityWarning
	severityInformation
)

type diagnostic struct {
	Range    span   `json:"range"`
	Severity int    `json:"severity"`
	Code     string `json:"code"` // the rule
	Source   string `json:"source"`
	Message  string `json:"message"`

	CodeDescription *codeDescription `json:"codeDescription,omitempty"`
	Related         []related        `json:"relatedInformation,omitempty"`
}

// codeDescription leads to the rule's page.
type codeDescription struct {
	Href string `json:"href"`
}

type related struct {
	Location location `json:"location"`
	Message  string   `json:"message"`
}

type publishDiagnosticsParams struct {
	URI         string       `json:"uri"`
	Version     *int         `json:"version,omitempty"`
	Diagnostics []diagnostic `json:"diagnostics"`
}

type markup struct {
	Kind  string `json:"kind"`
	Value string `json:"value"`
}

type hover struct {
	Contents markup `json:"contents"`
	Range    *span  `json:"range,omitempty"`
}

// Kinds of a completion item.
const (
	itemProperty   = 10
	itemUnit       = 11
	itemValue      = 12
	itemFile       = 17
	itemReference  = 18
	itemEnumMember = 20
)

type completionItem struct {
	Label         string    `json:"label"`
	Kind          int       `json:"kind"`
	Detail        string    `json:"detail,omitempty"`
	Documentation *markup   `json:"documentation,omitempty"`
	SortText      string    `json:"sortText,omitempty"`
	FilterText    string    `json:"filterText,omitempty"`
	Tags          []int     `json:"tags,omitempty"` // 1: deprecated
	TextEdit      *textEdit `json:"textEdit,omitempty"`
}

type textEdit struct {
	Range   span   `json:"range"`
	NewText string `json:"newText"`
}

type location struct {
	URI   string `json:"uri"`
	Range span   `json:"range"`
}

type codeAction struct {
	Title       string        `json:"title"`
	Kind        string        `json:"kind"`
	IsPreferred bool          `json:"isPreferred,omitempty"`
	Diagnostics []diagnostic  `json:"diagnostics,omitempty"`
	Edit        workspaceEdit `json:"edit"`
}

// workspaceEdit has its edits in one of two forms, as the client can read them.
type workspaceEdit struct {
	Changes         map[string][]textEdit `json:"changes,omitempty"`
	DocumentChanges []any                 `json:"documentChanges,omitempty"` // documentEdit and renameFile
}

type documentEdit struct {
	TextDocument versioned  `json:"textDocument"`
	Edits        []textEdit `json:"edits"`
}

type versioned struct {
	URI     string `json:"uri"`
	Version *int   `json:"version"` // null for a file that is not open
}

type renameFile struct {
	Kind   string `json:"kind"` // "rename"
	OldURI string `json:"oldUri"`
	NewURI string `json:"newUri"`
}

type referenceParams struct {
	positionParams
	Context struct {
		IncludeDeclaration bool `json:"includeDeclaration"`
	} `json:"context"`
}

type renameParams struct {
	positionParams
	NewName string `json:"newName"`
}

type renamePlace struct {
	Range       span   `json:"range"`
	Placeholder string `json:"placeholder"`
}

type rangeParams struct {
	TextDocument textDocument `json:"textDocument"`
	Range        *span        `json:"range"`
}

type workspaceSymbolParams struct {
	Query string `json:"query"`
}

// Kinds of a symbol.
const (
	symbolFile     = 1
	symbolClass    = 5
	symbolProperty = 7
	symbolField    = 8
	symbolString   = 15
	symbolNumber   = 16
)

type documentSymbol struct {
	Name           string           `json:"name"`
	Detail         string           `json:"detail,omitempty"`
	Kind           int              `json:"kind"`
	Range          span             `json:"range"`
	SelectionRange span             `json:"selectionRange"`
	Children       []documentSymbol `json:"children,omitempty"`
}

type workspaceSymbol struct {
	Name          string   `json:"name"`
	Kind          int      `json:"kind"`
	Location      location `json:"location"`
	ContainerName string   `json:"containerName,omitempty"`
}

type foldingRange struct {
	StartLine int    `json:"startLine"`
	EndLine   int    `json:"endLine"`
	Kind      string `json:"kind,omitempty"`
}

type inlayHint struct {
	Position    position `json:"position"`
	Label       string   `json:"label"`
	Tooltip     *markup  `json:"tooltip,omitempty"`
	PaddingLeft bool     `json:"paddingLeft"`
}

type codeLens struct {
	Range   span    `json:"range"`
	Command command `json:"command"`
}

type command struct {
	Title     string `json:"title"`
	Command   string `json:"command"`
	Arguments []any  `json:"arguments,omitempty"`
}

type semanticTokens struct {
	Data []int `json:"data"`
}

// decode reads the parameters of a message.
func decode[T any](m message) (T, error) {
	var p T
	if err := json.Unmarshal(m.Params, &p); err != nil {
		return p, failure(codeInvalidParams, "the parameters of %s cannot be read: %v", m.Method, err)
	}
	return p, nil
}
