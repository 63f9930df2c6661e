// Package portion takes the part of a journal that is one owner's out of it, and
// brings another journal in.
//
//	p, err := portion.New(j, "tarrow-lane")
//	p.Keeps(journal.File{Kind: journal.KindSession, ID: "2026-09-15-tarrow-bore"}) // true
//	p.Strangers.In([]byte("as at Mill Lane"))                                       // "Mill Lane"
//
//	split, err := portion.Split(ctx, j, h, "tarrow-lane", "clients/tarrow", who, now)
package portion
