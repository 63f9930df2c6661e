package plan

import (
	"fmt"
	"hash/maphash"
	"sync"

	"wj/water"
	"wj/water/treat"
)

// predicted are the predictions that this process has worked out, by all that they follow from. One command asks for most of its
// changes several times (as signed, on the day, for the sheet), a language server and a program that serves many commands far more often.
var predicted struct {
	mu sync.Mutex
	of map[planKey]*treat.Prediction
}

// mostPredicted is how many are kept, some 30 kB each; then they are forgotten together.
const mostPredicted = 256

// predict is treat.Predict once for each plan. The prediction is shared: it is not to be changed.
func predict(p treat.Plan) (*treat.Prediction, error) {
	key := keyOf(&p)
	predicted.mu.Lock()
	known := predicted.of[key]
	predicted.mu.Unlock()
	if known != nil {
		return known, nil
	}
	p.Waters = append([]treat.Portion(nil), p.Waters...)
	for i := range p.Waters {
		own := *p.Waters[i].Analysis
		p.Waters[i].Analysis = &own
	}
	out, err := treat.Predict(p)
	if err != nil {
		return nil, err
	}
	predicted.mu.Lock()
	defer predicted.mu.Unlock()
	if predicted.of == nil || len(predicted.of) >= mostPredicted {
		predicted.of = map[planKey]*treat.Prediction{}
	}
	predicted.of[key] = out
	return out, nil
}

// planKey is a digest of everything that a plan says.
type planKey [2]uint64

var planSeeds = [2]maphash.Seed{maphash.MakeSeed(), maphash.MakeSeed()}

func keyOf(p *treat.Plan) (key planKey) {
	head := *p
	head.Waters, head.Additions, head.Mash = nil, nil, nil
	text := fmt.Appendf(nil, "%#v", head)
	if p.Mash != nil {
		text = fmt.Appendf(text, "%#v", *p.Mash)
	}
	for i, seed := range planSeeds {
		var h maphash.Hash
		h.SetSeed(seed)
		h.Write(text)
		for k := range p.Additions {
			maphash.WriteComparable(&h, p.Additions[k])
		}
		for k := range p.Waters {
			w := p.Waters[k]
			for id := water.ID(0); id < water.NumAnalytes; id++ {
				if m, ok := w.Analysis.Measured(id); ok {
					maphash.WriteComparable(&h, id)
					maphash.WriteComparable(&h, m)
				}
			}
			w.Analysis = nil
			maphash.WriteComparable(&h, w)
		}
		key[i] = h.Sum64()
	}
	return key
}

// mashedWith makes a work one of which the grist is known.
func (w *Work) mashedWith(m *treat.Mash) error {
	p := w.Prediction.Plan
	p.Mash = m
	out, err := predict(p)
	if err == nil {
		w.Prediction = out
	}
	return err
}
