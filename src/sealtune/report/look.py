"""The page's look: two palettes, one style sheet; a label on a workpiece, not a screen full of gauges.

The verdict colours differ in lightness as well as in hue, and every verdict has its own shape and word.
"""

from __future__ import annotations

LIGHT: dict[str, str] = {
    "ground": "#efece4",
    "card": "#fffdf8",
    "ink": "#22262a",
    "soft": "#5a5f63",
    "rule": "#cfc8b8",
    "good": "#0b5d57",
    "rework": "#a33b00",
    "remeasure": "#5a3e8c",
    "onverdict": "#ffffff",
    "wood": "#f0dfb6",
    "dot": "#2f3d4c",
    "fit": "#c24e00",
    "band": "#0f7f8f",
    "mark": "#6a3d9a",
}
"""Colours on light ground, hex; the page's CSS variables carry the same names."""

DARK: dict[str, str] = {
    "ground": "#1b1d1f",
    "card": "#26292c",
    "ink": "#ece7dc",
    "soft": "#b3afa6",
    "rule": "#4b4e50",
    "good": "#6fd0c2",
    "rework": "#ffa066",
    "remeasure": "#c6adff",
    "onverdict": "#16181a",
    "wood": "#5b4d2c",
    "dot": "#d3dbe4",
    "fit": "#ff9d57",
    "band": "#5cc4d4",
    "mark": "#cda6ff",
}
"""The same on dark ground."""


def _variables(palette: dict[str, str]) -> str:
    return ";".join(f"--{name}:{value}" for name, value in palette.items())


def style_sheet() -> str:
    """The whole style sheet: screen light and dark, narrow screens, and A4 paper."""
    return (
        f":root{{color-scheme:light dark;{_variables(LIGHT)}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root{{{_variables(DARK)}}}}}\n" + _RULES
    )


_RULES = """
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%}
body{margin:0;background:var(--ground);color:var(--ink);font:16px/1.45 "Gill Sans","Seravek","Carlito",
 "Liberation Sans",Arial,sans-serif;font-variant-numeric:tabular-nums}
main{max-width:1160px;margin:0 auto;padding:12px 20px 40px}
.masthead{display:flex;flex-wrap:wrap;gap:0 18px;justify-content:space-between;color:var(--soft);
 font-size:14px;
 margin:0 0 10px}
.masthead b{color:var(--ink);letter-spacing:.04em}
.note{margin:0 0 10px;padding:5px 12px;border:2px dashed var(--soft);border-radius:4px;font-weight:600}
h1,h2,h3{line-height:1.15;margin:0}
h1.quiet{font-size:20px;font-weight:600;margin:0 0 10px}
p{margin:0}
a{color:inherit}
.name{font-family:ui-monospace,"DejaVu Sans Mono",Menlo,Consolas,monospace;overflow-wrap:anywhere}
.first{display:grid;grid-template-columns:minmax(0,11fr) minmax(0,12fr);gap:14px}
.first>div{display:flex;flex-direction:column}.first>div .tag{flex:1}
.first .trace{margin-top:0}
.said{margin:12px 20px 0;font-weight:600}
.first .row{margin-top:12px}.first .row{grid-template-columns:1fr 1fr}
.tag.mini,.row .tag.mini{grid-template-columns:46px 1fr}.row .tag.mini .side svg{width:28px;height:28px}
.tag.mini .side::before{display:none}.tag.mini a{text-decoration:none}
.row .tag.mini .word{font-size:20px}.row .tag.mini .reason{font-size:15px}
.level figure{max-width:640px}
.charts{display:grid;grid-template-columns:repeat(auto-fit,minmax(300px,1fr));gap:18px}
.charts h3{font-size:15px;margin:0 0 4px}
.reading{display:block;color:var(--ink);font-weight:600;font-size:15px;min-height:1.45em;margin-top:2px}
.reading[hidden]{display:none}
svg[data-curve]{touch-action:pan-y pinch-zoom}
line.pointer{stroke:var(--ink);stroke-width:1.2}
circle.pointer{fill:none;stroke:var(--ink);stroke-width:2}
.tag{position:relative;display:grid;grid-template-columns:88px 1fr;background:var(--card);
 border:1px solid var(--rule);
 border-radius:14px 4px 4px 14px;overflow:hidden}
.tag .side{background:var(--tone);color:var(--onverdict);display:flex;align-items:center;
 justify-content:center}
.tag .side svg{width:56px;height:56px;display:block}
.tag .side::before{content:"";position:absolute;left:14px;top:14px;width:14px;height:14px;border-radius:50%;
 background:var(--ground)}
.tag .face{padding:14px 20px 16px}
.tag .name{font-size:17px;color:var(--soft)}
.word{display:block;color:var(--tone);font-weight:800;font-size:46px;letter-spacing:.02em;line-height:1.05}
.reason{font-size:24px;font-weight:600;line-height:1.2}
.tag .step{margin-top:10px;font-size:18px}
.tag .step b,.how dt{color:var(--tone)}
.good{--tone:var(--good)}.rework{--tone:var(--rework)}.remeasure{--tone:var(--remeasure)}
.row{display:grid;grid-template-columns:repeat(auto-fit,minmax(320px,1fr));gap:14px}
.row .tag{grid-template-columns:76px 1fr}
.row .tag .side svg{width:50px;height:50px}
.row .word{font-size:32px}.row .reason{font-size:19px}.row .tag .step{font-size:16px;margin-top:6px}
.row .tag .face{padding:10px 16px 12px}
.row .more{margin-top:6px;font-size:14px;color:var(--soft)}
.between{margin:12px 0 0;padding:10px 16px;background:var(--card);border:1px solid var(--rule);
 border-radius:4px}
article{margin-top:26px;padding-top:22px;border-top:3px double var(--rule)}
article:first-of-type.alone{margin-top:0;padding-top:0;border-top:0}
section{margin-top:14px;background:var(--card);border:1px solid var(--rule);border-radius:4px;
 padding:14px 20px 16px}
section>h2,section>h3{font-size:15px;letter-spacing:.03em;color:var(--soft);margin:0 0 8px;font-weight:700}
.jobs{list-style:none;margin:0;padding:0}
.jobs>li{padding:10px 0;border-top:1px solid var(--rule)}
.jobs>li:first-child{border-top:0;padding-top:0}
.jobs>li:last-child{padding-bottom:0}
.jobs h3,.jobs h4{margin:0;font-size:18px}
.jobs .chance{font-weight:600;color:var(--tone);white-space:nowrap}
.meter{display:inline-block;width:74px;height:10px;border:1px solid var(--tone);vertical-align:baseline;
 margin-right:6px}
.meter i{display:block;height:100%;background:var(--tone)}
.how{display:grid;grid-template-columns:max-content 1fr;gap:3px 14px;margin:6px 0 0}
.how dt{font-weight:700}.how dd{margin:0;overflow-wrap:anywhere}
.scale svg{display:block;width:100%;height:158px;overflow:visible}
figure{margin:0}
figure svg{display:block;width:100%;height:auto}
figcaption{color:var(--soft);font-size:14px;margin-top:4px}
.narrow{display:none}
table{border-collapse:collapse;width:100%;font-size:15px}
th,td{text-align:left;padding:3px 12px 3px 0;border-bottom:1px solid var(--rule);vertical-align:top}
thead th{color:var(--soft);font-weight:600;font-size:13px}
tbody th{font-weight:400}
td:first-of-type{font-weight:600}
table+p,.plain+table,p+table{margin-top:8px}
tr.out td:first-of-type{color:var(--tone)}
tr.out td:first-of-type::after{content:" \\25C0";font-size:11px}
.pair{display:grid;grid-template-columns:minmax(0,3fr) minmax(0,2fr);gap:14px}
.pair section{margin-top:14px}
.plain{margin:0;padding-left:18px}.plain li{margin:3px 0}
.files td{overflow-wrap:anywhere}
code{font-family:ui-monospace,"DejaVu Sans Mono",Menlo,Consolas,monospace;font-size:.9em}
.cautions dl{display:grid;grid-template-columns:repeat(auto-fit,minmax(250px,1fr));gap:8px 24px;margin:0}
.cautions dt{font-weight:700}.cautions dd{margin:0}
footer{margin-top:14px;color:var(--soft);font-size:13px}
@media (max-width:640px){
 main{padding:8px 10px 30px}
 .masthead{font-size:12px;margin-bottom:6px}
 .tag,.row .tag{grid-template-columns:44px 1fr}
 .tag .side svg,.row .tag .side svg{width:32px;height:32px}
 .tag .side::before{left:15px;top:10px}
 .tag .face{padding:7px 12px 9px}
 .word{font-size:28px}.reason{font-size:18px}.tag .step{font-size:15px;line-height:1.33;margin-top:5px}
 .tag .name{font-size:14px}
 .note{font-size:12px;padding:2px 8px;margin-bottom:6px}
 .first{grid-template-columns:minmax(0,1fr);gap:0}.first .trace{margin-top:8px}
 .first .scale{margin-top:8px}.first section{padding:7px 12px 8px}.first section>h3{margin-bottom:2px;font-size:13px}
 .said{margin:10px 4px 0}
 .row{grid-template-columns:1fr;gap:8px}.row .word{font-size:25px}.row .reason{font-size:17px}
 section{padding:12px 12px 14px}
 .how{grid-template-columns:1fr;gap:0}.how dd{margin-bottom:4px}
 .pair{grid-template-columns:1fr;gap:0}
 .wide{display:none}.narrow{display:block}
 table{font-size:14px}th,td{padding-right:8px}
}
@page{size:A4;margin:10mm 12mm}
@media print{
 body{background:none;font-size:9.3pt;line-height:1.27;-webkit-print-color-adjust:exact;
 print-color-adjust:exact}
 main{max-width:none;padding:0}
 .wide{display:block}.narrow{display:none}
 article{break-before:page;margin-top:0;padding-top:0;border-top:0}
 article.alone{break-before:auto}
 section{margin-top:7px;padding:7px 12px 8px;break-inside:avoid}
 section.long{break-inside:auto}
 .charts{grid-template-columns:1fr 1fr}.charts figure,.level{break-inside:avoid}.level figure{max-width:110mm}
 .cost{display:grid;grid-template-columns:13fr 8fr;gap:0 14px}.cost>h2,.cost>h3,.cost>p{grid-column:1/-1}
 .tag{break-inside:avoid;grid-template-columns:80px 1fr}
 .tag .side::before{background:#fff}
 .word{font-size:24pt}.reason{font-size:13pt}.tag .step{font-size:10pt;margin-top:3px}
 .said{margin:4px 12px 0;font-size:9pt}.reading{display:none}
 .first{gap:8px}
 .first .trace{break-inside:avoid}
 .tag .face{padding:8px 16px}
 .row{grid-template-columns:1fr 1fr;gap:8px}.row .word{font-size:19pt}.row .reason{font-size:12pt}
 .row .tag .step{font-size:10pt}.row .more{display:none}
 .jobs>li{padding:5px 0;break-inside:avoid}.jobs h3,.jobs h4{font-size:10.5pt}
 .pair{gap:8px;grid-template-columns:minmax(0,7fr) minmax(0,5fr)}.pair section{margin-top:7px}
 .pair>section,.pair>div{break-inside:avoid}
 figure.costs svg.wide{max-height:44mm}
 .crowded .jobs,.crowded .plain{font-size:8pt;line-height:1.2}
 .crowded .jobs>li{padding:3px 0}.crowded .jobs h3,.crowded .jobs h4{font-size:9.5pt}
 .cautions{font-size:7.6pt;line-height:1.2}.cautions dl{grid-template-columns:repeat(5,1fr);gap:3px 10px}
 table{font-size:8pt}thead th{font-size:7.6pt}.pair table{font-size:7.7pt}.files table{font-size:7.4pt}
 .plain{font-size:8pt;line-height:1.2}.plain li{margin:1px 0}
 section>h2,section>h3{margin-bottom:4px;font-size:9.5pt}
 .how{gap:1px 12px;margin-top:2px}
th,td{padding-top:1px;padding-bottom:1px}
 figcaption,footer,.masthead{font-size:8.5pt}
}
"""
