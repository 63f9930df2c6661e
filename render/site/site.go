// Package site makes a folder of pages that link to each other out of Markdown texts and documents: each page under a
// heading of the list, with a search over all of them, and a link wherever a text names another page. The folder needs no
// server, works without script and from a file system, and loads nothing from elsewhere.
//
//	files, err := site.Site{Title: "wj"}.Build([]site.Page{{Name: "sulfate", Section: "Values", Markdown: text}})
//	done, err := site.Write(dir, "", files)
package site

import (
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html"
	"net/url"
	"path"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"unicode"

	"wj/render"
)

// Page is one page. Name is what it is about ("reagent/expired"); other pages that name it so, as code, link to it. Section
// is its heading in the list, About what is beside the name there: the text's first heading where it is empty.
type Page struct {
	Name, Section, About string
	Markdown             string
	Document             func() (render.Document, error) // drawn in place of Markdown; asked for once, by one of several goroutines

	File     string   // its place in the folder; by its section and name where it is empty
	Key      string   // what cells and facts of documents call it
	Words    []string // what links to it in any text: ids with a hyphen, names of several words
	Search   string   // what the search looks through, besides what the list shows; where it is empty, all words of the page
	Unlisted bool     // the list and its search leave it out
	Under    string   // the file of the entry of the head that it belongs to
	Refresh  int      // seconds after which a browser reads it anew
	Class    string   // of its body, for the style sheet
	After    string   // HTML after the document, such as FindForm
}

// Entry is a link in the head of every page.
type Entry struct{ Name, File string }

// Site is what its pages have in common.
type Site struct {
	Title  string
	Find   string              // the file of the list; index.html where it is empty
	Head   []Entry             // none: the title alone, which leads to the list
	Foot   string              // a sentence at the end of each page
	Text   func(string) string // rewrites every text of every page, which is escaped as HTML, before it is linked
	Errand string              // a sentence at the top of the list
	// Progress is told how many pages are made, on one goroutine at a time; it may be nil.
	Progress func(done int)
}

// Place is the page's file in the folder: sections are folders, what a web address cannot hold as it is becomes a hyphen.
func (p *Page) Place() string {
	return cmp.Or(p.File, slug(p.Section)+"/"+slug(p.Name)+".html")
}

var (
	unaddressed = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`[^a-z0-9]+`) })
	tags        = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`<[^>]*>`) })

	//go:embed search.js
	script string
	//go:embed site.css
	style string
)

const (
	styleFile = "style.css"

	// From a file system no page has an origin of its own, so 'self' may not match what is beside it.
	policy = "default-src 'none'; style-src 'self' file:; form-action 'self' file:"
)

func slug(s string) string {
	return strings.Trim(unaddressed().ReplaceAllString(strings.ToLower(s), "-"), "-")
}

// Build is the folder: paths and contents. Sections are in the order in which they first appear, pages within one as given.
// Two pages with one place in the folder are an error.
func (s Site) Build(pages []Page) (map[string]string, error) {
	s.Find = cmp.Or(s.Find, "index.html")
	l := newLinks(s, pages)
	taken := map[string]bool{s.Find: true, styleFile: true}
	for i := range pages {
		file := pages[i].Place()
		if taken[strings.ToLower(file)] {
			return nil, fmt.Errorf("build the pages: two of them have the place %s", file)
		}
		taken[strings.ToLower(file)] = true
	}
	made, errs := make([]made, len(pages)), make([]error, len(pages))
	var mu sync.Mutex
	done := 0
	var wait sync.WaitGroup
	var next atomic.Int64
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(pages); i = int(next.Add(1)) - 1 {
				made[i], errs[i] = s.make(l, &pages[i])
				if s.Progress != nil {
					mu.Lock()
					done++
					s.Progress(done)
					mu.Unlock()
				}
			}
		})
	}
	wait.Wait()
	files := map[string]string{styleFile: render.PageStyle() + style}
	for i := range pages {
		if errs[i] != nil {
			return nil, fmt.Errorf("make the page %s: %w", pages[i].Place(), errs[i])
		}
		files[pages[i].Place()] = made[i].page
	}
	files[s.Find] = s.list(pages, made)
	return files, nil
}

// made is a page with what the list needs of it.
type made struct{ page, heading, words string }

func (s Site) make(l *links, p *Page) (m made, err error) {
	var d *render.Document
	if p.Document != nil {
		one, err := p.Document()
		if err != nil {
			return m, err
		}
		d = &one
		m.heading = cmp.Or(d.Title, p.Name)
	} else {
		m.heading = heading(p)
	}
	body := l.body(p, d)
	if !p.Unlisted && p.Search == "" {
		m.words = words(body)
	}
	m.page = s.page(p, m.heading, body)
	return m, nil
}

// page is a whole page around its body.
func (s Site) page(p *Page, heading, body string) string {
	more := fmt.Sprintf("<link rel=\"stylesheet\" href=\"%s\">\n", between(p.Place(), styleFile))
	if p.Refresh > 0 {
		more += fmt.Sprintf("<meta http-equiv=\"refresh\" content=\"%d\">\n", p.Refresh)
	}
	title := s.text(html.EscapeString(heading))
	class, foot := "", ""
	if p.Class != "" {
		class = " class=\"" + p.Class + "\""
	}
	if s.Foot != "" {
		foot = "<footer><p>" + html.EscapeString(s.Foot) + "</p></footer>\n"
	}
	return render.PageHead(html.UnescapeString(title)+" · "+s.Title, policy, more) +
		"<body" + class + ">\n" + s.head(p) + "<main>\n" + body + p.After + "</main>\n" + foot + "</body>\n</html>\n"
}

func (s Site) text(t string) string {
	if s.Text == nil {
		return t
	}
	return s.Text(t)
}

// head are the links at the top of each page.
func (s Site) head(p *Page) string {
	if len(s.Head) == 0 {
		return fmt.Sprintf("<header><nav class=\"top\" aria-label=\"Pages\"><a href=\"%s\">%s</a> <span>%s</span></nav></header>\n", between(p.Place(), s.Find), html.EscapeString(s.Title), html.EscapeString(p.Section))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "<header><nav class=\"top\" aria-label=\"Pages\"><b>%s</b>", html.EscapeString(s.Title))
	for _, e := range s.Head {
		current := ""
		if e.File == cmp.Or(p.Under, p.Place()) {
			current = " aria-current=\"page\""
		}
		fmt.Fprintf(&b, " <a href=\"%s\"%s>%s</a>", between(p.Place(), e.File), current, html.EscapeString(e.Name))
	}
	b.WriteString("</nav></header>\n")
	return b.String()
}

// list is the page that lists all others, with the search.
func (s Site) list(pages []Page, made []made) string {
	var sections []string
	lists, n := map[string]*strings.Builder{}, 0
	for i := range pages {
		p := &pages[i]
		if p.Unlisted {
			continue
		}
		n++
		if lists[p.Section] == nil {
			lists[p.Section] = &strings.Builder{}
			sections = append(sections, p.Section)
		}
		search := s.text(html.EscapeString(render.Line(p.Search)))
		if search == "" {
			search = html.EscapeString(made[i].words)
		}
		fmt.Fprintf(lists[p.Section], "<li data-text=\"%s\"><a href=\"%s\">%s</a> <span class=\"soft\">%s</span></li>\n", search, between(s.Find, p.Place()), s.text(html.EscapeString(render.Line(p.Name))), s.text(html.EscapeString(render.Line(about(p, made[i].heading)))))
	}
	var b strings.Builder
	p := &Page{Name: s.Title, File: s.Find}
	if len(s.Head) > 0 {
		p.Name = "Find"
	}
	fmt.Fprintf(&b, "<h1>%s</h1>\n", html.EscapeString(p.Name))
	if s.Errand != "" {
		fmt.Fprintf(&b, "<p class=\"lead\">%s</p>\n", html.EscapeString(s.Errand))
	}
	fmt.Fprintf(&b, "<form class=\"find\" role=\"search\"><label for=\"find\">Find a word on %d pages</label> <input id=\"find\" name=\"q\" type=\"search\" autocomplete=\"off\"> <output for=\"find\" id=\"found\"></output></form>\n"+
		"<noscript><p class=\"soft\">The search needs a script; the list below does not.</p></noscript>\n", n)
	for _, section := range sections {
		fmt.Fprintf(&b, "<section>\n<h2>%s</h2>\n<ul>\n%s</ul>\n</section>\n", html.EscapeString(section), lists[section])
	}
	sum := sha256.Sum256([]byte(script))
	text := s.page(p, p.Name, b.String())
	if len(s.Head) == 0 {
		text = strings.Replace(text, s.head(p), "", 1)
	}
	text = strings.Replace(text, "default-src 'none'", "default-src 'none'; script-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'", 1)
	return strings.TrimSuffix(text, "</body>\n</html>\n") + "<script>" + script + "</script>\n</body>\n</html>\n"
}

// FindForm is a field that leads to the search, for a page beside the list.
func FindForm(list, label string) string {
	return fmt.Sprintf("<form class=\"find\" role=\"search\" action=\"%s\"><label for=\"q\">%s</label> <input id=\"q\" name=\"q\" type=\"search\" autocomplete=\"off\"> <button>Find</button></form>\n", html.EscapeString(list), html.EscapeString(label))
}

// between is the address of a page from another.
func between(from, to string) string {
	if path.Dir(from) == path.Dir(to) {
		to = path.Base(to)
	} else {
		to = strings.Repeat("../", strings.Count(from, "/")) + to
	}
	return (&url.URL{Path: to}).EscapedPath() // a file may have any name
}

// words are the different words of a page, which the search looks through.
func words(body string) string {
	all := strings.FieldsFunc(strings.ToLower(html.UnescapeString(tags().ReplaceAllString(body, " "))), func(r rune) bool {
		return strings.ContainsRune(" .,;:()[]{}\"'`", r) || !unicode.IsPrint(r)
	})
	slices.Sort(all)
	return strings.Join(slices.Compact(all), " ")
}

// heading is the first heading of a text, or its name.
func heading(p *Page) string {
	for line := range strings.Lines(p.Markdown) {
		if text, ok := strings.CutPrefix(line, "# "); ok {
			return strings.Trim(strings.ReplaceAll(text, "`", ""), " \n")
		}
	}
	return p.Name
}

// about is what the list says beside the name.
func about(p *Page, heading string) string {
	if p.About != "" || p.Document != nil || strings.EqualFold(heading, p.Name) {
		return p.About
	}
	return heading
}
