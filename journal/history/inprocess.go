package history

import (
	"sync"
	"sync/atomic"
)

var inProcess atomic.Bool

// ReadInProcess makes this process read history without the git program, where that can be done, and keep the objects that it
// read. It is for a program that serves many commands in clones that are whole, such as the one of testdata/simulate: to keep an
// object is to believe that it is still there.
func ReadInProcess() { inProcess.Store(true) }

// keepObjects is how many bytes are kept; then they are forgotten together.
const keepObjects = 64 << 20

// kept are objects by their names, which say what is in them.
var kept keptObjects

type keptObjects struct {
	mu    sync.Mutex
	of    map[Hash]keptObject
	bytes int
}

type keptObject struct {
	kind    kind
	content []byte
}

// object gives an object that was read before, or else reads it.
func (k *keptObjects) object(name Hash, read func() (kind, []byte, error)) (kind, []byte, error) {
	k.mu.Lock()
	o, ok := k.of[name]
	k.mu.Unlock()
	if ok {
		return o.kind, o.content, nil
	}
	of, content, err := read()
	if err != nil {
		return of, content, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.bytes += len(content); k.of == nil || k.bytes > keepObjects {
		k.of, k.bytes = map[Hash]keptObject{}, len(content)
	}
	k.of[name] = keptObject{of, content}
	return of, content, nil
}
