package evidence

import (
	"context"
	"strings"
	"time"

	"wj/journal"
	"wj/journal/history"
)

// strayAnchors looks for anchors on other branches: each must mark a commit of
// the mainline.
func (v *verifying) strayAnchors(ctx context.Context) error {
	refs, err := v.m.repo.References()
	if err != nil {
		return err
	}
	seen := map[history.Hash]bool{}
	for _, ref := range refs {
		if ref.Commit.IsZero() {
			continue
		}
		if err := v.strayRefusals(ctx, ref); err != nil {
			return err
		}
		if seen[ref.Commit] {
			continue
		}
		seen[ref.Commit] = true
		list, err := v.m.repo.List(ref.Commit, journal.KindAnchor.Folder())
		if err != nil {
			continue // another branch may hold anything
		}
		for _, e := range list {
			f, ok := journal.FileOf(e.Path)
			if !ok || !e.Mode.IsRegular() || v.m.files[recordKey(e.Path)] != nil {
				continue
			}
			content, err := v.m.repo.Blob(e.Blob)
			if err != nil {
				continue
			}
			_, record := Read(f, content)
			if a, ok := record.(*journal.Anchor); ok {
				if _, _, on, err := v.m.holds(ctx, a.Commit, len(v.m.commits)-1); err != nil {
					return err
				} else if !on {
					v.wrong(e.Path, "compare: git log "+ref.Name+" --not HEAD", "an anchor on %s marks commit %.10s, which is not on the mainline: history was rewritten", ref.Name, a.Commit)
				} else if !v.m.behind {
					v.Say("Anchor %s on %s marks commit %.10s of the mainline and is not merged.", f.ID, ref.Name, a.Commit)
				}
			}
		}
	}
	return nil
}

// remote says where the branch that judges and the remote's of its name went
// apart: one of them was rewritten, or they are not merged yet.
func (v *verifying) remote(ctx context.Context) error {
	branch, ok := strings.CutPrefix(v.m.base.Ref, "refs/heads/")
	if !ok {
		return nil
	}
	name := "refs/remotes/origin/" + branch
	there, err := v.m.repo.FullReference(name)
	if err != nil || there.Commit.IsZero() {
		return nil // it was never fetched
	}
	for _, pair := range [][2]history.Hash{{there.Commit, v.m.base.Commit.Hash}, {v.m.base.Commit.Hash, there.Commit}} {
		if held, err := v.m.repo.IsAncestor(ctx, pair[0], pair[1]); err != nil || held {
			return err
		}
	}
	v.Say("%s and %s went apart: one of them was rewritten, or they are not merged yet (git log %s --not HEAD).", v.m.base.Ref, name, name)
	return nil
}

// tags asks whether every signed tag lies on this history or continues it.
func (v *verifying) tags(ctx context.Context) (signed int, err error) {
	tags, err := v.m.repo.Tags()
	if err != nil {
		return 0, err
	}
	now := v.m.Rules()
	for _, tag := range tags {
		if !tag.Signed {
			continue
		}
		found, err := v.m.repo.VerifyTag(tag, now.Ring, time.Time{})
		if err != nil {
			return signed, err
		}
		who := found.Kind.String()
		switch found.Kind {
		case history.Bad, history.Malformed, history.WrongNamespace:
			v.wrong("tag "+tag.Name, "git tag -v "+tag.Name, "%s signature%s", found.Kind, inParentheses(found.Detail))
			continue
		case history.Good:
			who, signed = "signed by "+found.Principal, signed+1
		}
		held := false
		for _, pair := range [][2]history.Hash{{tag.Commit, v.m.head.Hash}, {v.m.head.Hash, tag.Commit}} {
			if held, err = v.m.repo.IsAncestor(ctx, pair[0], pair[1]); err != nil || held {
				break
			}
		}
		if err != nil {
			return signed, err
		}
		if !held {
			v.wrong("tag "+tag.Name, "compare: git log "+tag.Name+" --not HEAD", "a signed tag (%s, %s) is not part of this history: history was rewritten, or this branch left it", tag.Tagger.When.Format("2006-01-02"), who)
			continue
		}
		v.Say("Signed tag %s of %s, %s, is part of this history.", tag.Name, tag.Tagger.When.Format("2006-01-02"), who)
	}
	return signed, nil
}
