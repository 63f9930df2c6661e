// Package plan joins a journal's records with the arithmetic of water/treat: a
// change, its basis sessions, lots and scale become a treatment with its
// prediction; the newest sessions of the same sites show what it would do
// today; a batch shows what was really dosed. It is pure: a journal that was
// loaded with its sessions goes in, numbers and words come out, no clock and no
// Git.
//
//	t, err := plan.Open(j).Ask(plan.Question{
//		Waters: []string{"town-main"}, Target: "wicket-bitter", Volume: "600 L", MaxAdditions: -1, Now: now,
//	})
//	for _, d := range t.Work.Prediction.Doses {
//		fmt.Println(d) // amount, substance, strength, volume, and the most that may be added
//	}
package plan
