package sheet

// webTemplate is the page for the browser. The fonts are the reader's own; black
// on white; nothing is told by colour.
const webTemplate = `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta name="viewport" content="width=device-width, initial-scale=1"/>
<title>{{.Title}}</title>
<style>
html { color: #000; background: #fff; font: 16px/1.4 Arial, Helvetica, "Liberation Sans", sans-serif; }
body { max-width: 60rem; margin: 0 auto; padding: 0.75rem; overflow-wrap: anywhere; }
header { display: flex; flex-wrap: wrap; justify-content: space-between; align-items: baseline; gap: 0 1rem; border-bottom: 4px solid; }
h1 { font-size: 1.9rem; margin: 0; }
header p { font-size: 1.2rem; font-weight: bold; margin: 0; }
h2 { font-size: 1.15rem; margin: 1.8rem 0 0.5rem; padding-bottom: 0.15rem; border-bottom: 2px solid; }
section > section { margin: 0; }
p, ul, ol, dl { margin: 0.5rem 0; }
nav ul { padding: 0; display: flex; flex-wrap: wrap; gap: 0 1.5rem; list-style: none; }
a { color: #000; }
dl { display: grid; grid-template-columns: minmax(5.5rem, auto) 1fr; gap: 0.1rem 1rem; }
dt { font-weight: bold; }
dd { margin: 0; }
.alarm { border: 4px solid; padding: 0.5rem; font-size: 1.3rem; font-weight: bold; }
.lines { white-space: pre-wrap; font-family: monospace; margin: 0; }
.scroll { overflow-x: auto; }
table { width: max-content; border-collapse: collapse; margin: 0.5rem 0; font-variant-numeric: tabular-nums; overflow-wrap: normal; }
caption { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
th, td { padding: 0.25rem 0.9rem 0.25rem 0; text-align: left; vertical-align: middle; max-width: 22rem; overflow-wrap: break-word; }
thead th { vertical-align: bottom; font-size: 0.9rem; border-bottom: 2px solid; }
tbody th { font-weight: normal; }
tbody tr { border-top: 1px solid; }
tbody tr.note { border-top: 0; font-size: 0.95rem; }
.number { text-align: right; }
.large { font-size: 1.45rem; font-weight: bold; }
input { appearance: none; box-sizing: border-box; width: 1.6rem; height: 1.6rem; margin: 0; border: 2px solid; background: #fff; vertical-align: middle; }
input:checked::before { content: "\2713"; display: block; font-weight: bold; line-height: 1.3rem; text-align: center; }
.sign { display: grid; grid-template-columns: 6.5rem 1fr auto 5rem auto 4rem; gap: 0 0.4rem; align-items: end; min-height: 3rem; }
.sign b, .sign i { border-bottom: 2px solid; min-height: 1.2rem; }
figure { margin: 1.5rem 0; }
figcaption { font-size: 0.95rem; }
figure > div { overflow-x: auto; }
svg { width: 100%; min-width: 46rem; height: auto; }
footer { margin-top: 2rem; border-top: 2px solid; font-size: 0.9rem; }
@media (max-width: 40rem) { html { font-size: 15px; } th, td { padding-right: 0.55rem; } }
@page { size: {{.Size}}; margin: 14mm 12mm; }
@media print {
html { font-size: 9.5pt; }
body { max-width: none; padding: 0; }
nav { display: none; }
.part { break-before: page; }
.part:first-of-type { break-before: auto; }
h2 { break-after: avoid; margin-top: 1.1rem; }
tr, figure, .sign, .alarm { break-inside: avoid; }
thead { display: table-header-group; }
input { width: 4.6mm; height: 4.6mm; border-width: 1pt; }
input:checked::before { line-height: 4mm; }
.scroll, figure > div { overflow: visible; }
svg { min-width: 0; }
table { width: auto; }
}
</style>
</head>
<body>
{{- if gt (len .Parts) 1}}
<nav aria-label="parts of the sheet"><ul>{{range .Parts}}<li><a href="#{{.ID}}">{{.Name}}</a></li>{{end}}</ul></nav>
{{- end}}
<main>
{{- range .Parts}}
<section class="part" id="{{.ID}}" aria-label="{{.Name}}">
{{- range .Nodes}}
{{- if .Title}}
<header><h1>{{.Title}}</h1>{{if .Beside}}<p>{{.Beside}}</p>{{end}}</header>
{{- else if .Heading}}
<h2>{{.Heading}}</h2>
{{- else if .Alarm}}
<p class="alarm">{{.Alarm}}</p>
{{- else if .Para}}
<p>{{.Para}}</p>
{{- else if .Spaced}}
<p class="lines">{{.Spaced}}</p>
{{- else if .Sign}}
<div class="sign"><span>{{.Sign}}</span> <b></b> <span>date</span> <i></i> <span>time</span> <i></i></div>
{{- else if .Pairs}}
<dl>
{{- range .Pairs}}
<dt>{{.Name}}</dt><dd>{{.Text}}</dd>
{{- end}}
</dl>
{{- else if .List}}
{{- if .Numbered}}
<ol>{{range .List}}
<li>{{.Text}}</li>{{end}}
</ol>
{{- else}}
<ul>{{range .List}}
<li>{{.Text}}</li>{{end}}
</ul>
{{- end}}
{{- else if .Table}}{{with .Table}}
<div class="scroll" role="region" tabindex="0" aria-labelledby="{{.ID}}">
<table>
<caption id="{{.ID}}">{{.Caption}}</caption>
<thead><tr>{{range .Heads}}<th scope="col"{{if .Right}} class="number"{{end}}>{{.Text}}</th>{{end}}</tr></thead>
<tbody>
{{- range .Rows}}
<tr>
{{- range .Cells}}
{{- if .Tick}}<td><input type="checkbox" aria-label="{{.Label}}"/></td>
{{- else if .Head}}<th scope="row"{{if .Right}} class="number"{{else if .Large}} class="large"{{end}}>{{.Text}}</th>
{{- else}}<td{{if .Right}} class="number"{{else if .Large}} class="large"{{end}}>{{.Text}}</td>
{{- end}}{{end}}</tr>
{{- if .Note}}
<tr class="note"><td></td><td colspan="{{.Span}}">{{.Note}}</td></tr>
{{- end}}
{{- end}}
</tbody>
</table>
</div>
{{- end}}
{{- else if .Figure}}{{with .Figure}}
<figure>
<h2>{{.Title}}</h2>
<div>{{.SVG}}</div>
{{- if .Caption}}
<figcaption>{{.Caption}}</figcaption>
{{- end}}
</figure>
{{- end}}
{{- end}}
{{- end}}
</section>
{{- end}}
</main>
<footer>{{.Foot}}</footer>
</body>
</html>
`
