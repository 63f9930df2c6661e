package screen

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"wj/journal/bench"
	"wj/render"
)

// draw draws a view: the head, what is done at this tap, the prompt, what helps to judge the
// value, what comes then, and the keys. The prompt and the keys are always in sight; of the rest
// a small terminal shows what matters.
func (s *Screen) draw(v bench.View, width, height, skip int) (lines []string, cursorRow, cursorColumn, more int) {
	o := s.Out
	room := width - 1 // a full last column makes some terminals wrap
	head, right := render.Line(v.Where), render.Line(v.Count)
	if gap := room - render.Width(head) - render.Width(right); gap >= 2 && right != "" {
		head += strings.Repeat(" ", gap) + right
	} else {
		head = cut(strings.Join(nonEmpty(right, head), " · "), room)
	}
	top := []string{o.Paint(render.Heading, head), o.Paint(render.Dim, strings.Repeat("─", room))}
	top = append(top, s.done(v.Done, room, height >= 20)...)
	prompt, asked, column := s.prompt(v, room)
	cursorRow = -1
	var bottom []string
	if v.Test != "" && len(prompt) > 0 {
		if len(v.Done) > 0 && height >= 20 {
			top = append(top, "")
		}
		cursorRow, cursorColumn = len(top)+asked, column
		if top = append(top, prompt...); height >= 20 {
			top = append(top, "")
		}
		prompt = nil
	}
	if v.Timer > 0 {
		bottom = append(bottom, timerLine(v, room))
	}
	below := len(bottom)
	bottom = append(append(bottom, prompt...), o.Paint(render.Dim, strings.Repeat("─", room)))
	for _, l := range keyLines(v, room) {
		bottom = append(bottom, o.Paint(render.Dim, l))
	}

	body, focus := s.body(v.Lines, v.Focus, room)
	space := max(height-len(top)-len(bottom), 1)
	if total := len(body); total > space {
		from := min(max(focus-space/3, 0), len(body)-space)
		paged := v.Ask == "" && v.Timer == 0 && space > 2
		if paged {
			more = space - 1 // the last line of a screenful tells of the rest
			from += skip
			if from >= total { // round
				from = skip % more
			}
			from = min(from, total-space)
		}
		body = body[from : from+space]
		if left := total - from - space; left > 0 {
			text := fmt.Sprintf("… %d more lines", left+1)
			if paged {
				text += ": space"
			}
			body[space-1] = o.Paint(render.Dim, text)
		}
	}
	if then, _ := s.body(v.Then, -1, room); len(then) > 0 && len(body)+1 < space {
		body = append(append(body, ""), then[:min(len(then), space-len(body)-1)]...)
	}
	for len(body) < min(space, 16-len(prompt)) {
		body = append(body, "")
	}
	lines = append(append(top, body...), bottom...)
	if len(prompt) > 0 {
		cursorRow, cursorColumn = len(top)+len(body)+below+asked, column
	}
	return lines, cursorRow, cursorColumn, more
}

// prompt draws the question, what is typed, and below it why it was not taken; at is the line
// that the cursor is in.
func (s *Screen) prompt(v bench.View, room int) (lines []string, at, column int) {
	if v.Ask != "" {
		question := "▸ " + render.Line(v.Ask) + ": "
		typed := render.Line(v.Typed)
		if render.Width(question)+render.Width(typed) > room-1 {
			lines = append(lines, cut(question, room))
			question = ""
			for render.Width(typed) > room-1 { // the end of what is typed stays in sight
				_, n := utf8.DecodeRuneInString(typed)
				typed = typed[n:]
			}
		}
		state := render.Bold
		if v.Wrong {
			state = render.Warning
		}
		at, column = len(lines), render.Width(question+typed)
		line := question + s.Out.Paint(state, typed)
		if beside := render.Line(v.Beside); beside != "" && column+render.Width(beside)+2 < room {
			line += "  " + s.Out.Paint(render.Dim, beside)
		}
		lines = append(lines, line)
	}
	message := fold(v.Message, room-2)
	for i, l := range message[:min(len(message), 3)] {
		if i == 2 && len(message) > 3 {
			l = cut(l+"…", room-2)
		}
		lines = append(lines, "  "+s.Out.Paint(render.Warning, l))
	}
	return lines, at, column
}

// done lists the tests of the tap so far: in two columns where there is room, else on a line.
func (s *Screen) done(cells []bench.Cell, room int, tall bool) []string {
	if len(cells) == 0 {
		return nil
	}
	half, width := (len(cells)+1)/2, room/2
	texts, fits := make([]string, len(cells)), tall && len(cells) <= 12
	for i, c := range cells {
		mark := " "
		if c.Doubtful {
			mark = "?"
		}
		texts[i] = fmt.Sprintf("%2d %s %-16s %s", c.Number, mark, c.Name, render.Line(c.Text))
		fits = fits && render.Width(texts[i]) < width
	}
	if !fits { // the newest, as many as there is room for
		text, head := "", fmt.Sprintf("done %d  ", len(cells))
		for i := range cells {
			list := doneText(cells[len(cells)-1-i:])
			if render.Width(list)+len(head) > room {
				break
			}
			text = list
		}
		return []string{s.Out.Paint(render.Dim, cut(head+render.Line(text), room))}
	}
	var lines []string
	for i := range half {
		line := texts[i]
		if i+half < len(texts) {
			line += strings.Repeat(" ", max(width-render.Width(line), 1)) + texts[i+half]
		}
		lines = append(lines, s.Out.Paint(render.Dim, line))
	}
	return lines
}

// headWidth is the column of the words that say what a line is.
const headWidth = 10

// body folds lines; the words before them stand in a column of their own.
func (s *Screen) body(list []bench.Line, focused, room int) (body []string, focus int) {
	indent := 0
	for _, l := range list {
		if l.Head != "" {
			indent = headWidth
		}
	}
	for i, l := range list {
		if i == focused {
			focus = len(body)
		}
		width := room - indent
		if indent == 0 && render.Width(l.Text) > room {
			width = room - 4 // what follows is set in
		}
		for k, text := range fold(l.Text, width) {
			switch {
			case indent > 0 && k == 0:
				text = render.Line(l.Head) + strings.Repeat(" ", max(indent-render.Width(l.Head), 1)) + text
			case indent > 0:
				text = strings.Repeat(" ", indent) + text
			case k > 0:
				text = "    " + strings.TrimLeft(text, " ")
			}
			body = append(body, s.Out.Paint(lineState(l.Style), cut(text, room)))
		}
	}
	return body, focus
}

func lineState(s bench.Style) render.State {
	switch s {
	case bench.Quiet:
		return render.Dim
	case bench.Strong:
		return render.Bold
	case bench.Doubtful:
		return render.Warning
	}
	return render.Plain
}

// fold breaks a text; nothing gives no line.
func fold(text string, width int) []string {
	if text == "" {
		return nil
	}
	return strings.Split(render.Wrap(render.Line(text), max(width, 8)), "\n")
}

func cut(s string, width int) string {
	if render.Width(s) <= width {
		return s
	}
	for render.Width(s) > width-1 && s != "" {
		_, n := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-n]
	}
	return s + "…"
}

// keyLines lists the keys, never breaking inside one.
func keyLines(v bench.View, width int) []string {
	var lines []string
	line := ""
	for _, k := range v.Keys {
		part := k.Key + " " + render.Line(k.Does)
		switch {
		case line == "":
			line = part
		case render.Width(line)+3+render.Width(part) <= width:
			line += " · " + part
		default:
			lines, line = append(lines, line), part
		}
	}
	return append(lines, line)
}

// timerLine is the time that is left, in figures and as a line that grows
// shorter.
func timerLine(v bench.View, width int) string {
	text := clockText(v.Timer)
	length := max(width-len(text)-1, 4)
	left := 0
	if v.Total > 0 {
		left = min(int(float64(length)*float64(v.Timer)/float64(v.Total)+0.5), length)
	}
	return text + " " + strings.Repeat("━", left) + strings.Repeat("·", length-left)
}
