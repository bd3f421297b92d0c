package colours

import (
	"fmt"
	"strings"
)

// kateSyntax is a syntax definition for Kate and what else draws by KSyntaxHighlighting: one context a block.
func kateSyntax(blocks []blockWords) string {
	var out strings.Builder
	add := func(format string, args ...any) { fmt.Fprintf(&out, format+"\n", args...) }
	add(`<?xml version="1.0" encoding="UTF-8"?>`)
	add(`<!-- %s -->`, madeBy)
	add(`<language name="Motet" section="Sources" version="1" kateversion="5.0" extensions="*.motet" casesensitive="1">`)
	add("  <highlighting>\n    <contexts>")
	add(`      <context name="Start" attribute="Name" lineEndContext="#stay">`)
	for _, b := range blocks {
		add(`        <RegExpr attribute="Block" context="%s" String="^%s(?![^ \t#&quot;])" column="0"/>`, "Opener "+b.Word, b.Word)
	}
	add("        <IncludeRules context=\"Atoms\"/>\n      </context>")
	for _, b := range blocks {
		kateBlock(add, &b)
	}
	add(`      <context name="Atoms" attribute="Name" lineEndContext="#stay">`)
	add(`        <RegExpr attribute="%s" context="#stay" String="#[ \t]*allow[ \t]+[^ \t:]+:.*$"/>`, kateName(allowRole))
	add(`        <RegExpr attribute="Comment" context="#stay" String="#.*$"/>`)
	add(`        <RegExpr attribute="Text" context="#stay" String="&quot;[^&quot;]*&quot;"/>`)
	for _, a := range atomRoles() {
		add(`        <RegExpr attribute="%s" context="#stay" String="%s"/>`, kateName(a.role), escapeXML("(?:"+oniguruma().rewrite(a.Expression)+`)(?![^ \t#"])`))
	}
	add(`        <RegExpr attribute="Wrong" context="#stay" String="[^ \t#&quot;]+"/>`)
	add("      </context>\n    </contexts>\n    <itemDatas>")
	for _, r := range []role{blockRole, entryRole, clauseRole, choiceRole, columnRole, titleRole, nameRole, pathRole, patternRole, numberRole, timeRole, markedRole, textRole, emptyRole, wrongRole, commentRole, allowRole} {
		add(`      <itemData name="%s" defStyleNum="%s"/>`, kateName(r), r.kate)
	}
	add("    </itemDatas>\n  </highlighting>\n  <general>\n    <comments>\n      <comment name=\"singleLine\" start=\"#\"/>\n    </comments>\n  </general>\n</language>")
	return out.String()
}

// kateName is the name of the role's style.
func kateName(r role) string { return strings.Replace(r.vimGroup()[5:], "Word", "", 1) }

// kateBlock writes the contexts of a block: its first line, its body, and each kind of line.
func kateBlock(add func(string, ...any), b *blockWords) {
	words := func(line lineWords) {
		for _, w := range []struct {
			words []string
			role
		}{{line.Clauses, clauseRole}, {line.Choices, choiceRole}} {
			if len(w.words) > 0 {
				add(`        <RegExpr attribute="%s" context="#stay" String="(?&lt;![^ \t&quot;])%s(?![^ \t#&quot;])"/>`, kateName(w.role), oniguruma().anyOf(w.words))
			}
		}
		add("        <IncludeRules context=\"Atoms\"/>\n      </context>")
	}
	add(`      <context name="Opener %s" attribute="Name" lineEndContext="Body %s">`, b.Word, b.Word)
	if b.Titled {
		add(`        <RegExpr attribute="Title" context="#stay" String="(?&lt;=^%s[ \t])[ \t]*[^ \t#&quot;]+"/>`, b.Word)
	}
	words(b.Opener)
	add(`      <context name="Body %s" attribute="Name" lineEndContext="#stay">`, b.Word)
	add(`        <RegExpr attribute="Name" context="#pop#pop" String="^[^ \t#]" column="0" lookAhead="true"/>`)
	for _, line := range b.Lines {
		add(`        <RegExpr attribute="Entry" context="Line %s %s" String="^[ \t]+%s(?![^ \t#&quot;])"/>`, b.Word, line.Word, line.Word)
	}
	if b.Table {
		add(`        <RegExpr attribute="Name" context="Columns %s" String="^[ \t]+%s(?![^ \t#&quot;])" lookAhead="true"/>`, b.Word, b.Columns[0])
		if len(b.Choices) > 0 {
			add(`        <RegExpr attribute="Name" context="Row %s" String="^%s"/>`, b.Word, escapeXML(strings.Repeat(`[ \t]+[^ \t#"]+`, max(1, b.Names))))
		}
	}
	words(b.Plain)
	for _, line := range b.Lines {
		add(`      <context name="Line %s %s" attribute="Name" lineEndContext="#pop">`, b.Word, line.Word)
		words(line)
	}
	if b.Table {
		named := oniguruma().anyOf(b.Columns)
		if b.Channels {
			named = `[^ \t#"]+`
		}
		add(`      <context name="Columns %s" attribute="Name" lineEndContext="#pop">`, b.Word)
		add(`        <RegExpr attribute="Column" context="#stay" String="%s"/>`, escapeXML(named+`(?![^ \t#"])`))
		words(lineWords{})
		if len(b.Choices) > 0 {
			add(`      <context name="Row %s" attribute="Name" lineEndContext="#pop">`, b.Word)
			words(lineWords{Choices: b.Choices})
		}
	}
}
