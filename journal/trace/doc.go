// Package trace follows the references between records: what a record depends
// on, what depends on it, what an error in some readings would do to the changes
// and batches further on, and which records may be handed to one owner.
//
//	tree := trace.NewGraph(j).Walk(lot, true)          // the recall walk
//	effects, err := trace.OnChange(j, change, off)     // were these readings off
package trace
