package colours

import (
	"encoding/xml"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// writePlist writes a value of JSON, without numbers, as Apple's property list.
func writePlist(out *strings.Builder, value any, indent string) {
	switch value := value.(type) {
	case map[string]any:
		out.WriteString(indent + "<dict>\n")
		for _, key := range slices.Sorted(maps.Keys(value)) {
			out.WriteString(indent + "  <key>" + escapeXML(key) + "</key>\n")
			writePlist(out, value[key], indent+"  ")
		}
		out.WriteString(indent + "</dict>\n")
	case []any:
		out.WriteString(indent + "<array>\n")
		for _, item := range value {
			writePlist(out, item, indent+"  ")
		}
		out.WriteString(indent + "</array>\n")
	default:
		out.WriteString(indent + "<string>" + escapeXML(fmt.Sprint(value)) + "</string>\n")
	}
}

func escapeXML(text string) string {
	var out strings.Builder
	_ = xml.EscapeText(&out, []byte(text)) // A strings.Builder never fails.
	return out.String()
}
