# Made by `go test ./editors/colours -update` from the grammar's tables; not to be changed by hand.

add-highlighter shared/motet regions
add-highlighter shared/motet/line default-region group
add-highlighter shared/motet/comment region '#' '$' fill comment
add-highlighter shared/motet/text region '"' '"|$' fill string
add-highlighter shared/motet/line/ regex '(?<![^ \t\n])[+-]?\d[^ \t\n#"]*' 0:value
add-highlighter shared/motet/line/ regex '(?<![^ \t\n])[^ \t\n#"]+/[^ \t\n#"]+' 0:variable
add-highlighter shared/motet/line/ regex '(?<![^ \t\n])(?:overshoot|arrives|damping|mirrors|after|every|from|at|in|of|on)(?![^ \t\n#"])' 0:operator
add-highlighter shared/motet/line/ regex '^[ \t]+((?:breathes|distinct|replaces|strength|advance|amplify|channel|lengths|members|opening|rejoins|reverse|without|height|inhale|leaves|mirror|offset|phases|reseed|spring|starts|count|cycle|delay|joint|model|pause|phase|scale|start|tempo|adds|band|beat|each|from|goal|grid|left|name|rate|rule|seed|span|swap|view|lag|rig|at))(?![^ \t\n#"])' 1:type
add-highlighter shared/motet/line/ regex '^((?:blocking|channels|overlap|breath|chains|change|family|follow|joints|quiver|amend|eases|house|layer|notes|pairs|plant|sheet|track|pose|rig))(?![^ \t\n#"])(?:[ \t]+([^ \t\n#"]+))?' 1:keyword 2:function
