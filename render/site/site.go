// Package site makes a folder of pages out of Markdown texts: a first page with a
// search over all of them, one page a text, and links wherever a text names
// another. The folder needs no server and loads nothing from elsewhere.
//
//	files, err := site.Build("wj", []site.Page{{Name: "sulfate", Section: "Values", Markdown: text}})
package site

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html"
	"path"
	"regexp"
	"slices"
	"strings"

	"wj/render"
)

// Page is one text. Name is what it explains ("reagent/expired"); other pages
// that name it so, as code, link to it. Section is its heading on the first page,
// About what stands beside the name there: the text's first heading where it is
// empty.
type Page struct {
	Name, Section, About, Markdown string
}

// File is the page's place in the folder: sections are folders, what a web address
// cannot hold as it is becomes a hyphen.
func (p Page) File() string { return slug(p.Section) + "/" + slug(p.Name) + ".html" }

var (
	unaddressed = regexp.MustCompile(`[^a-z0-9]+`)
	code        = regexp.MustCompile(`<code>([^<]+)</code>`)
	linked      = regexp.MustCompile(`(?s)<a [^>]*>.*?</a>|<pre.*?</pre>`)
	local       = regexp.MustCompile(`href="([^":?#]+\.md)(#[^"]*)?"`)
	command     = regexp.MustCompile(`^wj ([a-z]+)(?: ([a-z_/-]+))?\b`)
	tags        = regexp.MustCompile(`<[^>]*>`)

	//go:embed search.js
	script string
)

func slug(s string) string {
	return strings.Trim(unaddressed.ReplaceAllString(strings.ToLower(s), "-"), "-")
}

// Build is the folder: paths and contents. Sections stand in the order in which
// they first appear, pages within one as given. Two pages with one place in the
// folder are an error.
func Build(title string, pages []Page) (map[string]string, error) {
	files := map[string]string{}
	byName := map[string]string{}
	for _, p := range pages {
		if files[p.File()] != "" {
			return nil, fmt.Errorf("build the pages: two of them have the place %s", p.File())
		}
		files[p.File()] = "taken"
		if byName[p.Name] == "" {
			byName[p.Name] = p.File()
		}
	}
	var sections []string
	lists := map[string]*strings.Builder{}
	for _, p := range pages {
		body := linkNames(render.HTML(p.Markdown), p.File(), byName)
		files[p.File()] = render.HTMLPage(heading(p)+" · "+title, fmt.Sprintf("<nav><a href=\"../index.html\">%s</a> · %s</nav>\n<main>\n%s</main>\n", html.EscapeString(title), html.EscapeString(p.Section), body))
		if lists[p.Section] == nil {
			lists[p.Section] = &strings.Builder{}
			sections = append(sections, p.Section)
		}
		fmt.Fprintf(lists[p.Section], "<li data-text=\"%s\"><a href=\"%s\">%s</a> <span class=\"soft\">%s</span></li>\n", html.EscapeString(words(body)), p.File(), html.EscapeString(p.Name), html.EscapeString(about(p)))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "<main>\n<h1>%s</h1>\n<p><label for=\"find\">Find a word on %d pages</label> <input id=\"find\" type=\"search\" autocomplete=\"off\"> <output for=\"find\" id=\"found\"></output></p>\n", html.EscapeString(title), len(pages))
	for _, s := range sections {
		fmt.Fprintf(&b, "<section>\n<h2>%s</h2>\n<ul>\n%s</ul>\n</section>\n", html.EscapeString(s), lists[s])
	}
	b.WriteString("</main>\n<script>" + script + "</script>\n")
	sum := sha256.Sum256([]byte(script))
	files["index.html"] = strings.Replace(render.HTMLPage(title, b.String()), "default-src 'none'", "default-src 'none'; script-src 'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'", 1)
	return files, nil
}

// linkNames makes links of code that names another page, and of links between
// Markdown files links between pages.
func linkNames(body, from string, byName map[string]string) string {
	inside := linked.FindAllStringIndex(body, -1)
	var b strings.Builder
	at := 0
	link := func(part string) {
		b.WriteString(code.ReplaceAllStringFunc(part, func(m string) string {
			name := html.UnescapeString(code.FindStringSubmatch(m)[1])
			if words := command.FindStringSubmatch(name); words != nil {
				name = "wj " + words[1]
				if words[1] == "explain" && byName[words[2]] != "" {
					name = words[2]
				}
			}
			if to := byName[name]; to != "" && to != from {
				return fmt.Sprintf("<a href=\"%s\">%s</a>", between(from, to), m)
			}
			return m
		}))
	}
	for _, span := range inside {
		link(body[at:span[0]])
		b.WriteString(local.ReplaceAllStringFunc(body[span[0]:span[1]], func(m string) string {
			parts := local.FindStringSubmatch(m)
			if to := byName[strings.TrimSuffix(path.Base(parts[1]), ".md")]; to != "" {
				return fmt.Sprintf("href=\"%s%s\"", between(from, to), parts[2])
			}
			return m
		}))
		at = span[1]
	}
	link(body[at:])
	return b.String()
}

// between is the address of a page from another.
func between(from, to string) string {
	if path.Dir(from) == path.Dir(to) {
		return path.Base(to)
	}
	return "../" + to
}

// words are the different words of a page, which the search looks through.
func words(body string) string {
	all := strings.FieldsFunc(strings.ToLower(html.UnescapeString(tags.ReplaceAllString(body, " "))), func(r rune) bool {
		return strings.ContainsRune(" \t\n.,;:()[]{}\"'`", r)
	})
	slices.Sort(all)
	return strings.Join(slices.Compact(all), " ")
}

// heading is the first heading of a text, or its name.
func heading(p Page) string {
	for line := range strings.Lines(p.Markdown) {
		if text, ok := strings.CutPrefix(line, "# "); ok {
			return strings.Trim(strings.ReplaceAll(text, "`", ""), " \n")
		}
	}
	return p.Name
}

// about is what the first page says beside the name.
func about(p Page) string {
	if p.About != "" {
		return p.About
	}
	if text := heading(p); !strings.EqualFold(text, p.Name) {
		return text
	}
	return ""
}
