package site

import (
	"html"
	"path"
	"regexp"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"wj/render"
)

// links know what leads to which page.
type links struct {
	site    Site
	named   map[string]string   // by the names of pages, for code
	keyed   map[string]string   // by their keys, for documents
	worded  map[string]string   // by words with hyphens, for any text
	phrases map[string][]phrase // by the first word of a name of several words, the longest first
}

type phrase struct{ text, to string }

func newLinks(s Site, pages []Page) *links {
	l := &links{s, map[string]string{}, map[string]string{}, map[string]string{}, map[string][]phrase{}}
	for i := range pages {
		p := &pages[i]
		if p.Name != "" && l.named[p.Name] == "" {
			l.named[p.Name] = p.Place()
		}
		if p.Key != "" {
			l.keyed[p.Key] = p.Place()
		}
		for _, w := range p.Words {
			w = html.EscapeString(w)
			switch first, _, several := strings.Cut(w, " "); {
			case several:
				l.phrases[first] = append(l.phrases[first], phrase{w, p.Place()})
			case strings.Contains(w, "-") && l.worded[w] == "":
				l.worded[w] = p.Place()
			}
		}
	}
	return l
}

// body is what a page shows, with its links.
func (l *links) body(p *Page, d *render.Document) string {
	from := p.Place()
	if d != nil {
		return l.link(d.Linked(func(key string) string {
			if strings.HasPrefix(key, "#") {
				return key
			}
			if to := l.keyed[key]; to != "" && to != from {
				return between(from, to)
			}
			return ""
		}), from)
	}
	return l.link(render.HTML(p.Markdown), from)
}

var (
	command = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^wj ([a-z]+)(?: ([a-z_/-]+))?\b`) })
	address = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?:href|src)="([^"]*)"`) })
	shown   = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`alt="([^"]*)"`) })
)

// unlinked are elements in whose texts no link is made.
var unlinked = []string{"a", "h1", "svg", "pre", "summary", "title"}

// link makes links of code that names another page, of links between Markdown files links between pages, and of words and
// names that are other pages' own; what leads nowhere in the folder stays as text.
func (l *links) link(body, from string) string {
	var b strings.Builder
	b.Grow(len(body) + len(body)/4)
	inside, dropped := 0, 0 // how deep in what is unlinked; links that are taken out and not closed yet
	for at := 0; at < len(body); {
		if body[at] != '<' {
			end := strings.IndexByte(body[at:], '<')
			if end < 0 {
				end = len(body) - at
			}
			text := l.site.text(body[at : at+end])
			if inside == 0 {
				text = l.words(text, from)
			}
			b.WriteString(text)
			at += end
			continue
		}
		end := tagEnd(body, at)
		tag := body[at:end]
		name, closing := tagName(tag)
		switch {
		case name == "code" && !closing && inside == 0:
			end += max(strings.Index(body[end:], "</code>"), 0)
			text := l.site.text(body[at+len(tag) : end])
			end += len("</code>")
			all := tag + text + "</code>"
			if to := l.code(html.UnescapeString(text)); to != "" && to != from {
				all = "<a href=\"" + between(from, to) + "\">" + all + "</a>"
			}
			b.WriteString(all)
		case name == "a" && closing && dropped > 0:
			dropped, inside = dropped-1, inside-1
		case name == "a" && !closing || name == "img":
			kept, ok := l.lead(tag, from)
			switch {
			case ok:
				b.WriteString(l.speak(kept))
			case name == "img":
				if m := shown().FindStringSubmatch(tag); m != nil {
					b.WriteString(l.site.text(m[1]))
				}
			default:
				dropped++
			}
			if name == "a" {
				inside++
			}
		default:
			for _, u := range unlinked {
				if name == u && closing {
					inside--
				} else if name == u {
					inside++
				}
			}
			b.WriteString(l.speak(tag))
		}
		at = min(end, len(body))
	}
	return b.String()
}

// spoken are the attributes of a tag that people hear or see.
var spoken = []string{` aria-label="`, ` title="`, ` alt="`, ` data-head="`}

// speak rewrites the attributes of a tag that people hear or see.
func (l *links) speak(tag string) string {
	if l.site.Text == nil || !strings.Contains(tag, `="`) {
		return tag
	}
	for _, name := range spoken {
		if at := strings.Index(tag, name); at >= 0 {
			at += len(name)
			end := at + max(strings.IndexByte(tag[at:], '"'), 0)
			if was := tag[at:end]; l.site.text(was) != was {
				tag = tag[:at] + l.site.text(was) + tag[end:]
			}
		}
	}
	return tag
}

// lead brings the address of a tag to where it is in the folder; ok is false where it is not there.
func (l *links) lead(tag, from string) (kept string, ok bool) {
	m := address().FindStringSubmatchIndex(tag)
	if m == nil {
		return tag, false
	}
	to := html.UnescapeString(tag[m[2]:m[3]])
	file, part, _ := strings.Cut(to, "#")
	switch {
	case l.site.text(to) != to:
		return "", false
	case strings.HasPrefix(to, "#"), strings.HasPrefix(to, "http://"), strings.HasPrefix(to, "https://"), strings.HasPrefix(to, "mailto:"):
		return tag, true
	case strings.HasSuffix(file, ".md"):
		base := strings.TrimSuffix(path.Base(file), ".md")
		place := l.named[base]
		if place == "" {
			place = l.worded[base]
		}
		if place == "" {
			return "", false
		}
		file = between(from, place)
		if part != "" {
			file += "#" + part
		}
		return tag[:m[2]] + html.EscapeString(file) + tag[m[3]:], true
	case strings.HasSuffix(file, ".html"): // made by Linked
		return tag, true
	}
	return "", false
}

// code is the page that a piece of code is about: a name, or a command with a record's.
func (l *links) code(text string) string {
	if to := l.named[text]; to != "" {
		return to
	}
	m := command().FindStringSubmatch(text)
	if m == nil {
		return l.worded[text]
	}
	for _, w := range strings.Fields(text)[1:] {
		if to := l.worded[html.EscapeString(w)]; to != "" {
			return to
		}
	}
	if m[1] == "explain" && l.named[m[2]] != "" {
		return l.named[m[2]]
	}
	return l.named["wj "+m[1]]
}

// words links the words and names of an escaped text that belong to other pages.
func (l *links) words(text, from string) string {
	if len(l.worded) == 0 && len(l.phrases) == 0 {
		return text
	}
	var b strings.Builder
	done := 0
	for at := 0; at < len(text); {
		end := wordEnd(text, at)
		if end == at {
			_, n := utf8.DecodeRuneInString(text[at:])
			at += n
			continue
		}
		word, to := text[at:end], ""
		if strings.Contains(word, "-") {
			to = l.worded[word]
		}
		for _, p := range l.phrases[word] {
			if n := len(p.text); strings.HasPrefix(text[at:], p.text) && wordEnd(text, at+n) == at+n {
				word, to, end = p.text, p.to, at+n
				break
			}
		}
		if to != "" && to != from {
			b.WriteString(text[done:at] + "<a href=\"" + between(from, to) + "\">" + word + "</a>")
			done = end
		}
		at = end
	}
	if done == 0 {
		return text
	}
	return b.String() + text[done:]
}

// wordEnd is where the word ends that begins at a place: letters and digits, with single hyphens between them.
func wordEnd(s string, at int) int {
	letter := func(at int) int {
		r, n := utf8.DecodeRuneInString(s[at:])
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return n
		}
		return 0
	}
	for at < len(s) {
		n := letter(at)
		if n == 0 && s[at] == '-' && at+1 < len(s) {
			if n = letter(at + 1); n > 0 {
				n++
			}
		}
		if n == 0 {
			break
		}
		at += n
	}
	return at
}

// tagEnd is where a tag ends, with quoted attributes in it.
func tagEnd(s string, at int) int {
	quote := byte(0)
	for i := at + 1; i < len(s); i++ {
		switch c := s[i]; {
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case c == '"' || c == '\'':
			quote = c
		case c == '>':
			return i + 1
		}
	}
	return len(s)
}

func tagName(tag string) (name string, closing bool) {
	tag = strings.TrimPrefix(tag, "<")
	tag, closing = strings.CutPrefix(tag, "/")
	if end := strings.IndexAny(tag, " \n\t/>"); end >= 0 {
		tag = tag[:end]
	}
	return tag, closing
}
