"""The page of a report: its structure, filled by name and escaped everywhere."""

from __future__ import annotations

PAGE = """\
<!doctype html>
<html lang="{{ page_language }}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{{ facts.title }}{% if issue %}, {{ issue }}{% endif %}: report</title>
<style>{{ style }}</style>
</head>
<body>
<header>
<h1{{ lang }}>{{ facts.title }}</h1>
<p>{% for fact in head %}<span>{{ fact }}</span>
{%- if not loop.last %}<i class="dot">{{ dot }}</i>{% endif %}{% endfor %}</p>
</header>
<main>
<section class="verdict" aria-labelledby="verdict">
<h2 id="verdict"><span class="mark {{ verdict_mark }}">{{ verdict }}</span></h2>
{% if facts.reasons %}
<ul>
{% for reason in facts.reasons %}
<li>{{ words.signed(reason) }}</li>
{% endfor %}
</ul>
{% endif %}
<p class="fit">{{ fit }}</p>
</section>

<section aria-labelledby="numbers">
<h2 id="numbers">Numbers against their targets</h2>
{# The roles stay when a narrow screen sets the rows as blocks. #}
<table class="numbers" role="table" aria-labelledby="numbers">
<thead role="rowgroup"><tr role="row">
<th role="columnheader" scope="col">What</th>
<th role="columnheader" scope="col">Came in</th>
<th role="columnheader" scope="col">Master</th>
<th role="columnheader" scope="col">Asked for</th>
</tr></thead>
<tbody role="rowgroup">
{% for figure in facts.figures %}
<tr role="row"><th role="rowheader" scope="row">{{ figure.name }}</th>
<td role="cell"><span class="label" aria-hidden="true">Came in </span>
{{- value(figure, figure.before) }}</td>
<td role="cell" class="master"><span class="label" aria-hidden="true">Master </span>
{{- value(figure, figure.after) }}</td>
<td role="cell">
{%- if figure.target %}<span class="label" aria-hidden="true">Asked for </span>
{{- words.signed(figure.target) }}{% endif %}
{%- if figure.met is not none %}, {% if figure.met %}kept
{%- else %}<span class="mark fix">not kept</span>{% endif %}{% endif %}</td></tr>
{% endfor %}
</tbody>
</table>
<p class="convention soft">{{ convention }}</p>
</section>

<section aria-labelledby="loudness">
<h2 id="loudness">Loudness over time</h2>
{{ plot("master", "the master", after) }}
<details>
<summary>The same in numbers, minute by minute</summary>
<table class="twin">
<caption class="unseen">Loudness of each minute, in LUFS</caption>
<thead><tr>
<th scope="col">From</th><th scope="col">Came in, LUFS</th><th scope="col">Master, LUFS</th>
</tr></thead>
<tbody>
{% for minute, came_in, master in minutes %}
<tr><th scope="row">{{ minute }}</th><td>{{ came_in }}</td><td>{{ master }}</td></tr>
{% endfor %}
</tbody>
</table>
</details>
<details>
<summary>The picture of what came in</summary>
{{ plot("source", "what came in", before) }}
</details>
</section>

<section aria-labelledby="things">
<h2 id="things">Things to hear</h2>
<p class="soft">{{ things_sentence }}</p>
{% if to_hear %}
{{ listed(to_hear) }}
{% endif %}
{% if notes %}
<details>
<summary>{{ notes_summary }}</summary>
{{ listed(notes) }}
</details>
{% endif %}
</section>

<section aria-labelledby="done">
<h2 id="done">What was done</h2>
{% if facts.done %}
<ol class="done">
{% for deed in facts.done %}
<li>{{ words.signed(deed.text) }}
{%- if deed.reason %} <span class="soft">{{ words.signed(deed.reason) }}</span>{% endif %}</li>
{% endfor %}
</ol>
{% else %}
<p>Nothing had to be changed.</p>
{% endif %}
{{ repairs }}
</section>

<section class="listen" aria-labelledby="listen">
<h2 id="listen">Listen</h2>
<audio controls preload="metadata" src="{{ address(facts.player) }}"
 aria-label="{{ facts.title }}, the whole programme"></audio>
{% if facts.chapters %}
<ol class="articles" aria-label="Articles">
{% for chapter in facts.chapters %}
<li><a href="{{ address(facts.player) }}#t={{ '%.1f' % chapter.start_s }}">
{{- clock(chapter.start_s) }}</a><span{{ lang }}>{{ chapter.title }}</span></li>
{% endfor %}
</ol>
{% endif %}
</section>

<section aria-labelledby="files">
<h2 id="files">Files</h2>
<ul class="files">
{% for file in facts.files %}
<li><a href="{{ address(file.name) }}" download>{{ file.what }}</a>
<span class="soft">{{ file.name }}, {{ words.size_words(file.size_bytes) }}</span></li>
{% endfor %}
</ul>
</section>

<section aria-labelledby="made">
<h2 id="made">How it was made</h2>
<dl>
<dt>From</dt><dd>{{ facts.source }}, {{ words.length(facts.duration_before_s) }}</dd>
<dt>Finished</dt><dd>{{ words.moment_words(facts.made_at) }}</dd>
<dt>By</dt><dd>{{ facts.made_by }}</dd>
</dl>
</section>
</main>
</body>
</html>
"""

PLOT = """\
<figure>
<div class="plot">
<div class="levels" aria-hidden="true">
{% for rule in picture.levels %}
<span{% if rule.is_target %} class="target"{% endif %}
 style="top:{{ rule.percent }}%">{{ rule.label }}</span>
{% endfor %}
</div>
<svg viewBox="0 0 {{ width }} {{ height }}" preserveAspectRatio="none" role="img"
 aria-labelledby="{{ name }}-title {{ name }}-text">
<title id="{{ name }}-title">Loudness over time: {{ heading }}</title>
<desc id="{{ name }}-text">{{ picture.sentence }}</desc>
<rect class="band" width="{{ width }}" y="{{ picture.band_top }}"
 height="{{ picture.band_height }}"/>
{% for rule in picture.levels %}
<line class="{{ 'target-rule' if rule.is_target else 'paper-rule' }}"
 x2="{{ width }}" y1="{{ rule.percent }}%" y2="{{ rule.percent }}%"/>
{% endfor %}
<line class="base" x2="{{ width }}" y1="{{ paper }}" y2="{{ paper }}"/>
{% for mark in picture.marks %}
<line class="thing {{ mark.severity }}-thing" x1="{{ mark.start }}" x2="{{ mark.stop }}"
 y1="{{ marks }}" y2="{{ marks }}"/>
{% endfor %}
<path d="{{ picture.line }}"/>
</svg>
<div class="times" aria-hidden="true">
{% for time in picture.times %}
<span style="left:{{ time.percent }}%">{{ time.label }}</span>
{% endfor %}
</div>
</div>
<figcaption>{{ picture.sentence }}
{%- if picture.marks %} What is to be heard is marked under its place.{% endif %}</figcaption>
</figure>
"""

THINGS = """\
<ol class="things">
{% for finding in findings %}
{% set what = words.FINDING_WORDS[finding.kind] %}
{% set where = words.place_words(finding) %}
<li>
<h3><span class="mark {{ finding.severity }}">{{ what }}</span>
<span class="at">{{ where }}</span></h3>
<p>{{ words.signed(finding.advice) }}
<span class="soft">{{ words.measured_words(finding) }}
{{ words.SEVERITY_WORDS[finding.severity] }}</span></p>
<details>
<summary>Hear it<span class="unseen">: {{ what }} {{ where }}</span></summary>
<audio controls preload="none"
 src="{{ address(player) }}#t={{ '%.1f,%.1f' % words.hear_range_s(finding, duration_s) }}"
 aria-label="{{ what }} {{ where }}"></audio>
</details>
</li>
{% endfor %}
</ol>
"""

REPAIRS = """\
<details>
<summary>The repairs in pictures, before and after</summary>
<p class="soft">{{ sentence }}</p>
<ol class="repairs">
{% for picture in pictures.shown %}
{% set what = words.FINDING_WORDS[picture.kind] %}
<li>
<h3>{{ what }} <span class="at">at {{ clock(picture.start_s) }}</span></h3>
<p>{{ picture.sentence }}</p>
<div class="pair">
{% for name, address in drawn(picture) %}
<figure>
<div class="spectrum"><img src="{{ address }}" width="{{ columns }}" height="{{ rows }}"
 alt="{{ name }}: {{ '%.1f' % picture.length_s }} seconds around it, 0 to
 {{- ' ' ~ picture.top_hz // 1000 }} kHz"></div>
<div class="where" aria-hidden="true"><i style="left:{{ picture.place_from }}%;
 {{- 'width:%.1f' % (picture.place_to - picture.place_from) }}%"></i></div>
<figcaption><b>{{ name }}</b>, 0 to {{ picture.top_hz // 1000 }} kHz,
 {{- ' %.1f' % picture.length_s }} s</figcaption>
</figure>
{% endfor %}
<figure class="level">
<svg viewBox="0 0 {{ columns }} {{ levels_db }}" preserveAspectRatio="none" role="img"
 aria-label="Level over the same time, before and now">
<rect x="{{ picture.place_from * columns / 100 }}" height="{{ levels_db }}"
 width="{{ '%.1f' % ((picture.place_to - picture.place_from) * columns / 100) }}"/>
<polyline class="before" points="{{ picture.before_line }}"/>
<polyline points="{{ picture.after_line }}"/>
</svg>
<figcaption><b>Level</b>, {{ words.number(picture.top_dbov - levels_db, 0) }} to
 {{- ' ' ~ words.number(picture.top_dbov, 0) }} dBov: dotted before, solid now</figcaption>
</figure>
</div>
</li>
{% endfor %}
</ol>
</details>
"""
