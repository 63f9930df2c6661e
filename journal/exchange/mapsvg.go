package exchange

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"

	"wj/journal"
	"wj/render"
)

// MapPoint is a place with its name and a remark for the list below the map.
type MapPoint struct {
	Name, Remark string
	Place        journal.Place
}

// The picture is 720 units wide: the map with a margin for the degrees, then a
// line of the list for each place.
const (
	mapWidth, mapHeight                  = 720.0, 520.0
	mapLeft, mapRight, mapTop, mapBottom = 80.0, 20.0, 44.0, 56.0
	mapLine                              = 20.0
	mapLetter                            = 6.7   // width of a letter at 12 px, about
	mapSmallest                          = 0.002 // degrees: a map is never of less than 220 m
)

const (
	mapForm   = `text{font:12px system-ui,sans-serif}.title{font-size:15px;font-weight:600}.bar{stroke-width:2}.mark{stroke-width:1.5}.number{font-size:10px;font-weight:600}` + "\n"
	mapColour = `text{fill:var(--ink)}.soft{fill:var(--soft)}.back{fill:var(--paper)}.sheet{fill:var(--panel);stroke:var(--edge)}.grid{stroke:var(--rule)}.bar{stroke:var(--ink)}.arrow{fill:var(--ink)}.mark{fill:var(--mark);stroke:var(--paper)}.number{fill:var(--paper)}`
)

// projection is the plate carrée with its true scale at the middle latitude:
// over a brewery's country the error of shape is small, and meridians and
// parallels stay straight (Snyder 1987, Map Projections, USGS Professional Paper
// 1395, p. 90).
type projection struct {
	latitude, longitude float64 // the middle
	shrink              float64 // cosine of the middle latitude
	scale               float64 // units a degree of latitude
	x0, y0              float64 // where the middle is drawn
	halfLat, halfLon    float64 // what the sheet covers
}

func (p projection) x(longitude float64) float64 {
	return p.x0 + wrap(longitude-p.longitude)*p.shrink*p.scale
}
func (p projection) y(latitude float64) float64 { return p.y0 - (latitude-p.latitude)*p.scale }

// wrap brings a difference of longitudes to between -180 and 180 degrees, so that
// a map can lie across the date line.
func wrap(d float64) float64 { return math.Mod(math.Mod(d+180, 360)+360, 360) - 180 }

func project(points []MapPoint) projection {
	var sin, cos float64
	south, north := 90.0, -90.0
	for _, pt := range points {
		sin += math.Sin(radians(pt.Place.Longitude))
		cos += math.Cos(radians(pt.Place.Longitude))
		south, north = min(south, pt.Place.Latitude), max(north, pt.Place.Latitude)
	}
	about := math.Atan2(sin, cos) * 180 / math.Pi
	west, east := 0.0, 0.0
	for i, pt := range points {
		d := wrap(pt.Place.Longitude - about)
		if i == 0 {
			west, east = d, d
		}
		west, east = min(west, d), max(east, d)
	}
	p := projection{latitude: (south + north) / 2, longitude: wrap(about + (west+east)/2)}
	p.shrink = max(math.Cos(radians(p.latitude)), 0.02)
	width, height := mapWidth-mapLeft-mapRight, mapHeight-mapTop-mapBottom
	// A fifth is added so that names have room.
	spanLat, spanLon := max((north-south)*1.2, mapSmallest), max((east-west)*1.2, mapSmallest/p.shrink)
	p.scale = min(height/spanLat, width/(spanLon*p.shrink))
	p.x0, p.y0 = mapLeft+width/2, mapTop+height/2
	p.halfLat, p.halfLon = height/p.scale/2, width/p.scale/p.shrink/2
	return p
}

// niceStep is the largest of 1, 2 and 5 times a power of ten that is not above
// v.
func niceStep(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{5, 2, 1} {
		if m*power <= v*(1+1e-9) {
			return m * power
		}
	}
	return power
}

// niceAbove is the smallest of 1, 2 and 5 times a power of ten that is not below
// v.
func niceAbove(v float64) float64 {
	step := niceStep(v)
	for _, m := range []float64{1, 2, 2.5, 5} {
		if up := niceStep(step * m); up >= v*(1-1e-9) {
			return up
		}
	}
	return step * 10
}

// MapSVG draws places as a stand-alone picture: meridians and parallels, a scale
// bar, north, numbered marks with their names, and a list. It refers to nothing
// outside itself. Points without a place are only listed.
func MapSVG(title string, points []MapPoint) string {
	var set []MapPoint
	for _, p := range points {
		if p.Place.Set {
			set = append(set, p)
		}
	}
	height := mapHeight + mapLine*float64(len(points)) + 12
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="t d" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f">`+"\n", mapWidth, height, mapWidth, height)
	fmt.Fprintf(&b, "<title id=\"t\">%s</title>\n<desc id=\"d\">%s</desc>\n%s", escapeXML(title), escapeXML(describeMap(points)), "<style>\n"+mapForm+render.PictureColours(mapColour)+"</style>\n")
	fmt.Fprintf(&b, `<rect class="back" width="%.0f" height="%.0f"/>`+"\n", mapWidth, height)
	svgText(&b, mapLeft, 28, "title", "start", title)
	fmt.Fprintf(&b, `<rect class="sheet" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`+"\n", mapLeft, mapTop, mapWidth-mapLeft-mapRight, mapHeight-mapTop-mapBottom)
	if len(set) == 0 {
		svgText(&b, mapWidth/2, mapHeight/2, "soft", "middle", "no places to draw")
	} else {
		p := project(set)
		graticule(&b, p)
		scaleBar(&b, p)
		fmt.Fprintf(&b, `<path class="arrow" d="M%.1f %.1fl6 18l-6 -5l-6 5z"/>`+"\n", mapWidth-mapRight-18, mapTop+10)
		svgText(&b, mapWidth-mapRight-18, mapTop+42, "", "middle", "N")
		marks(&b, p, points)
	}
	for i, pt := range points {
		y := mapHeight + mapLine*float64(i) + 4
		text := fmt.Sprintf("%d  %s", i+1, pt.Name)
		if pt.Remark != "" {
			text += " – " + pt.Remark
		}
		if !pt.Place.Set {
			text += " (no place given)"
		}
		svgText(&b, mapLeft, y, "", "start", text)
	}
	b.WriteString("</svg>\n")
	return b.String()
}

// describeMap says the map in words.
func describeMap(points []MapPoint) string {
	parts := make([]string, len(points))
	for i, p := range points {
		where := "no place given"
		if p.Place.Set {
			where = FormatPlace(p.Place)
		}
		parts[i] = p.Name + " at " + where
	}
	return strings.Join(parts, "; ")
}

func graticule(b *strings.Builder, p projection) {
	left, right, top, bottom := mapLeft, mapWidth-mapRight, mapTop, mapHeight-mapBottom
	step := niceAbove(p.halfLat * 2 / 6)
	for n := math.Ceil((p.latitude - p.halfLat) / step); n*step <= p.latitude+p.halfLat; n++ {
		if at := n * step; math.Abs(at) <= 90 {
			svgLine(b, "grid", left, p.y(at), right, p.y(at))
			svgText(b, left-6, p.y(at)+4, "soft", "end", formatDegrees(at, step, "N", "S"))
		}
	}
	step = niceAbove(p.halfLon * 2 / 7)
	half := min(p.halfLon, 180)
	for n := math.Ceil((p.longitude - half) / step); n*step <= p.longitude+half; n++ {
		at := n * step
		x := p.x0 + (at-p.longitude)*p.shrink*p.scale
		svgLine(b, "grid", x, top, x, bottom)
		svgText(b, x, bottom+16, "soft", "middle", formatDegrees(wrap(at), step, "E", "W"))
	}
}

func formatDegrees(v, step float64, positive, negative string) string {
	side := positive
	if v < 0 {
		side = negative
	}
	decimals := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	text := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	if strings.Trim(text, "0.") == "" {
		return "0°"
	}
	return text + "° " + side
}

func scaleBar(b *strings.Builder, p projection) {
	perUnit := journal.EarthRadius * math.Pi / 180 / p.scale // m a unit of the picture, true along a meridian and at the middle latitude
	length := niceStep((mapWidth - mapLeft - mapRight) / 4 * perUnit)
	x, y := mapLeft, mapHeight-mapBottom+34
	end := x + length/perUnit
	svgLine(b, "bar", x, y, end, y)
	svgLine(b, "bar", x, y-4, x, y+4)
	svgLine(b, "bar", end, y-4, end, y+4)
	text := strconv.FormatFloat(length, 'f', -1, 64) + " m"
	if length >= 1000 {
		text = strconv.FormatFloat(length/1000, 'f', -1, 64) + " km"
	}
	if p.halfLat > 1 {
		text += " at " + formatDegrees(math.Round(p.latitude*10)/10, 0.1, "N", "S")
	}
	svgText(b, end+8, y+4, "soft", "start", text)
}

// box is a rectangle that a mark or name takes.
type box struct{ left, top, right, bottom float64 }

func (a box) meets(b box) bool {
	return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom
}

// group is the points that would be drawn on one another: one mark for all.
type group struct {
	x, y    float64
	numbers []string
	names   []string
}

func groups(p projection, points []MapPoint, radius float64) []group {
	var out []group
	for i, pt := range points {
		if !pt.Place.Set {
			continue
		}
		x, y := p.x(pt.Place.Longitude), p.y(pt.Place.Latitude)
		at := -1
		for k := range out {
			if math.Hypot(out[k].x-x, out[k].y-y) < radius {
				at = k
				break
			}
		}
		if at < 0 {
			at = len(out)
			out = append(out, group{x: x, y: y})
		}
		out[at].numbers = append(out[at].numbers, strconv.Itoa(i+1))
		out[at].names = append(out[at].names, pt.Name)
	}
	return out
}

// marks draws a numbered mark for each place, and its name beside it where that
// is in nothing's way; the list below has all of them. Several at one place get
// one mark and their numbers beside it.
func marks(b *strings.Builder, p projection, points []MapPoint) {
	const radius = 8
	sheet := box{mapLeft, mapTop, mapWidth - mapRight, mapHeight - mapBottom}
	taken := []box{{sheet.right - 34, sheet.top, sheet.right, sheet.top + 48}}
	all := groups(p, points, radius)
	for _, g := range all {
		taken = append(taken, box{g.x - radius, g.y - radius, g.x + radius, g.y + radius})
	}
	for _, g := range all {
		x, y := g.x, g.y
		fmt.Fprintf(b, `<circle class="mark" cx="%.1f" cy="%.1f" r="%d"><title>%s</title></circle>`+"\n", x, y, radius, escapeXML(strings.Join(g.names, "; ")))
		name := g.names[0]
		if len(g.names) == 1 {
			svgText(b, x, y+3.5, "number", "middle", g.numbers[0])
		} else if name = strings.Join(g.numbers, ", "); len(g.numbers) > 12 {
			name = strings.Join(g.numbers[:11], ", ") + " …"
		}
		w := mapLetter * float64(render.Width(render.Line(name)))
		for _, c := range []struct {
			box
			x, y   float64
			anchor string
		}{
			{box{x + 11, y - 8, x + 11 + w, y + 8}, x + 11, y + 4, "start"},
			{box{x - 11 - w, y - 8, x - 11, y + 8}, x - 11, y + 4, "end"},
			{box{x - w/2, y - 26, x + w/2, y - 10}, x, y - 13, "middle"},
			{box{x - w/2, y + 10, x + w/2, y + 26}, x, y + 22, "middle"},
		} {
			free := c.left >= sheet.left && c.right <= sheet.right && c.top >= sheet.top && c.bottom <= sheet.bottom
			for _, t := range taken {
				free = free && !c.meets(t)
			}
			if free {
				svgText(b, c.x, c.y, "", c.anchor, name)
				taken = append(taken, c.box)
				break
			}
		}
	}
}

func escapeXML(s string) string { return html.EscapeString(render.Line(s)) }

func svgText(b *strings.Builder, x, y float64, class, anchor, text string) {
	if class != "" {
		class = ` class="` + class + `"`
	}
	fmt.Fprintf(b, `<text%s x="%.1f" y="%.1f" text-anchor="%s">%s</text>`+"\n", class, x, y, anchor, escapeXML(text))
}

func svgLine(b *strings.Builder, class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(b, `<line class="%s" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`+"\n", class, x1, y1, x2, y2)
}
