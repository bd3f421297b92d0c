" Vim syntax file for motion sheets.
" Made by `go test ./editors/colours -update` from the grammar's tables; not to be changed by hand.
if exists('b:current_syntax')
  finish
endif
let s:cpo = &cpo
set cpo&vim
syn case match
syn spell notoplevel
syn sync minlines=400

syn match motetWrong /\v[^ \t#"]+/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%(\%)%([ \t#"]|$)@=/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%(\d+\/\d+)%([ \t#"]|$)@=/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%([+-]?\d+%(\.\d+)?%(%(%([cC][mM]\/[sS]|[dD][eE][gG]\/[sS]|[cC][mM]|[dD][eE][gG]|[hH][zZ]|[bB][pP][mM]|[fF][pP][sS])|\%|s|f)|%([kK][eE][yY][sS]|[jJ][oO][iI][nN][tT][sS]|[kK][bB]|[xX]))%(,[+-]?\d+%(\.\d+)?%(%(%([cC][mM]\/[sS]|[dD][eE][gG]\/[sS]|[cC][mM]|[dD][eE][gG]|[hH][zZ]|[bB][pP][mM]|[fF][pP][sS])|\%|s|f)|%([kK][eE][yY][sS]|[jJ][oO][iI][nN][tT][sS]|[kK][bB]|[xX])))+|[+-]?\d+%(\.\d+)?%([kK][eE][yY][sS]|[jJ][oO][iI][nN][tT][sS]|[kK][bB]|[xX]))%([ \t#"]|$)@=/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%([+-]?\d+%(\.\d+)?%(,[+-]?\d+%(\.\d+)?){3})%([ \t#"]|$)@=/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%([+-][xyz])%([ \t#"]|$)@=/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%(%([+-]?\d+%(\.\d+)?|[+-]?%(\d+%(\.\d+|\/\d+)?[fbs])%([+-]\d+%(\.\d+|\/\d+)?[fbs])*)\.\.%([+-]?%(\d+%(\.\d+|\/\d+)?[fbs])%([+-]\d+%(\.\d+|\/\d+)?[fbs])*|[+-]?\d+%(\.\d+)?%(%([cC][mM]\/[sS]|[dD][eE][gG]\/[sS]|[cC][mM]|[dD][eE][gG]|[hH][zZ]|[bB][pP][mM]|[fF][pP][sS])|\%|s|f)?))%([ \t#"]|$)@=/ contained
syn match motetPattern /\v%(^|[ \t"])@<=%(%([0-9A-Za-z_.-]|[^\x01-\x7F])*\*%([0-9A-Za-z_.*-]|[^\x01-\x7F])*%(\/%([0-9A-Za-z_.*-]|[^\x01-\x7F])+)?|%([0-9A-Za-z_.-]|[^\x01-\x7F])+\/%([0-9A-Za-z_.-]|[^\x01-\x7F])*\*%([0-9A-Za-z_.*-]|[^\x01-\x7F])*)%([ \t#"]|$)@=/ contained
syn match motetPath /\v%(^|[ \t"])@<=%(%(\a|[^\x01-\x7F])%(%([0-9A-Za-z_-]|[^\x01-\x7F])*%([0-9A-Za-z_]|[^\x01-\x7F]))?%(\.%(%([0-9A-Za-z_-]|[^\x01-\x7F])*%([0-9A-Za-z_]|[^\x01-\x7F])))*\/%(\a|[^\x01-\x7F])%(%([0-9A-Za-z_-]|[^\x01-\x7F])*%([0-9A-Za-z_]|[^\x01-\x7F]))?%(\.%(%([0-9A-Za-z_-]|[^\x01-\x7F])*%([0-9A-Za-z_]|[^\x01-\x7F])))*)%([ \t#"]|$)@=/ contained
syn match motetName /\v%(^|[ \t"])@<=%(%(\a|[^\x01-\x7F])%(%([0-9A-Za-z_-]|[^\x01-\x7F])*%([0-9A-Za-z_]|[^\x01-\x7F]))?%(\.%(%([0-9A-Za-z_-]|[^\x01-\x7F])*%([0-9A-Za-z_]|[^\x01-\x7F])))*)%([ \t#"]|$)@=/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%(%([+-]?\d+%(\.\d+)?|\d+\/\d+)%(%([cC][mM]\/[sS]|[dD][eE][gG]\/[sS]|[cC][mM]|[dD][eE][gG]|[hH][zZ]|[bB][pP][mM]|[fF][pP][sS])|\%|s|f))%([ \t#"]|$)@=/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%([+-]?\d+%(\.\d+)?\%)%([ \t#"]|$)@=/ contained
syn match motetTime /\v%(^|[ \t"])@<=%([+-]?%(\d+%(\.\d+|\/\d+)?[fbs])%([+-]\d+%(\.\d+|\/\d+)?[fbs])*)%([ \t#"]|$)@=/ contained
syn match motetMarked /\v%(^|[ \t"])@<=%([+-]?\d+%(\.\d+)?%([~\^>=]|\@[+-]?\d+%(\.\d+)?%(,[+-]?\d+%(\.\d+)?)?))%([ \t#"]|$)@=/ contained contains=motetMark
syn match motetMark /\v[~^>\=@][-+0-9.,]*/ contained
syn match motetNumber /\v%(^|[ \t"])@<=%([+-]?\d+%(\.\d+)?)%([ \t#"]|$)@=/ contained
syn match motetEmpty /\v%(^|[ \t"])@<=%(\.)%([ \t#"]|$)@=/ contained
syn match motetText /"[^"]*"/ contained
syn match motetWrong /"[^"]*$/ contained
syn match motetComment /#.*/ contains=motetAllowance,@Spell
syn match motetAllowance /\v#[ \t]*\zsallow[ \t]+[^ \t:]+:/ contained
hi def link motetMarked Number
syn cluster motetAtom contains=motetName,motetMarked,motetPath,motetPattern,motetNumber,motetTime,motetText,motetEmpty,motetWrong,motetComment

" sheet
syn match motetLineSheet /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetEntrySheetRig /\v^[ \t]+\zsrig%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetRig motetEntryWord
syn match motetClauseWordSheetRig /\v%(^|[ \t"])@<=%(in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordSheetRig motetClauseWord
syn match motetLineSheetRig /\v^[ \t]+rig%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetRig,@motetAtom,motetClauseWordSheetRig
syn match motetEntrySheetFrom /\v^[ \t]+\zsfrom%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetFrom motetEntryWord
syn match motetClauseWordSheetFrom /\v%(^|[ \t"])@<=%(in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordSheetFrom motetClauseWord
syn match motetLineSheetFrom /\v^[ \t]+from%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetFrom,@motetAtom,motetClauseWordSheetFrom
syn match motetEntrySheetRate /\v^[ \t]+\zsrate%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetRate motetEntryWord
syn match motetLineSheetRate /\v^[ \t]+rate%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetRate,@motetAtom
syn match motetEntrySheetTempo /\v^[ \t]+\zstempo%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetTempo motetEntryWord
syn match motetLineSheetTempo /\v^[ \t]+tempo%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetTempo,@motetAtom
syn match motetEntrySheetBeat /\v^[ \t]+\zsbeat%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetBeat motetEntryWord
syn match motetLineSheetBeat /\v^[ \t]+beat%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetBeat,@motetAtom
syn match motetEntrySheetCycle /\v^[ \t]+\zscycle%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetCycle motetEntryWord
syn match motetLineSheetCycle /\v^[ \t]+cycle%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetCycle,@motetAtom
syn match motetEntrySheetSpan /\v^[ \t]+\zsspan%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetSpan motetEntryWord
syn match motetLineSheetSpan /\v^[ \t]+span%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetSpan,@motetAtom
syn match motetEntrySheetLeaves /\v^[ \t]+\zsleaves%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetLeaves motetEntryWord
syn match motetClauseWordSheetLeaves /\v%(^|[ \t"])@<=%(at|in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordSheetLeaves motetClauseWord
syn match motetLineSheetLeaves /\v^[ \t]+leaves%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetLeaves,@motetAtom,motetClauseWordSheetLeaves
syn match motetEntrySheetRejoins /\v^[ \t]+\zsrejoins%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetRejoins motetEntryWord
syn match motetClauseWordSheetRejoins /\v%(^|[ \t"])@<=%(at|in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordSheetRejoins motetClauseWord
syn match motetLineSheetRejoins /\v^[ \t]+rejoins%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetRejoins,@motetAtom,motetClauseWordSheetRejoins
syn match motetEntrySheetPhase /\v^[ \t]+\zsphase%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetPhase motetEntryWord
syn match motetLineSheetPhase /\v^[ \t]+phase%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetPhase,@motetAtom
syn match motetEntrySheetAdvance /\v^[ \t]+\zsadvance%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetAdvance motetEntryWord
syn match motetLineSheetAdvance /\v^[ \t]+advance%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetAdvance,@motetAtom
syn match motetEntrySheetGrid /\v^[ \t]+\zsgrid%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetGrid motetEntryWord
syn match motetLineSheetGrid /\v^[ \t]+grid%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetGrid,@motetAtom
syn match motetEntrySheetView /\v^[ \t]+\zsview%([ \t#"]|$)@=/ contained
hi def link motetEntrySheetView motetEntryWord
syn match motetChoiceWordSheetView /\v%(^|[ \t"])@<=%(three-quarter|front|round|side)%([ \t#"]|$)@=/ contained
hi def link motetChoiceWordSheetView motetChoiceWord
syn match motetLineSheetView /\v^[ \t]+view%([ \t#"]|$)@=.*$/ contained contains=motetEntrySheetView,@motetAtom,motetChoiceWordSheetView
syn match motetTitleSheet /\v%(^sheet[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleSheet motetTitle
syn match motetWordSheet /\v^sheet%([ \t#"]|$)@=/ contained
hi def link motetWordSheet motetBlockWord
syn match motetOpenerSheet /\v^sheet%([ \t#"]|$)@=.*$/ contained contains=motetWordSheet,@motetAtom,motetTitleSheet
syn region motetBlockSheet start=/\v^sheet%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerSheet,motetLineSheet,motetLineSheetRig,motetLineSheetFrom,motetLineSheetRate,motetLineSheetTempo,motetLineSheetBeat,motetLineSheetCycle,motetLineSheetSpan,motetLineSheetLeaves,motetLineSheetRejoins,motetLineSheetPhase,motetLineSheetAdvance,motetLineSheetGrid,motetLineSheetView,motetComment

" rig
syn match motetLineRig /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetEntryRigHeight /\v^[ \t]+\zsheight%([ \t#"]|$)@=/ contained
hi def link motetEntryRigHeight motetEntryWord
syn match motetLineRigHeight /\v^[ \t]+height%([ \t#"]|$)@=.*$/ contained contains=motetEntryRigHeight,@motetAtom
syn match motetEntryRigBreathes /\v^[ \t]+\zsbreathes%([ \t#"]|$)@=/ contained
hi def link motetEntryRigBreathes motetEntryWord
syn match motetLineRigBreathes /\v^[ \t]+breathes%([ \t#"]|$)@=.*$/ contained contains=motetEntryRigBreathes,@motetAtom
syn match motetEntryRigModel /\v^[ \t]+\zsmodel%([ \t#"]|$)@=/ contained
hi def link motetEntryRigModel motetEntryWord
syn match motetLineRigModel /\v^[ \t]+model%([ \t#"]|$)@=.*$/ contained contains=motetEntryRigModel,@motetAtom
syn match motetTitleRig /\v%(^rig[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleRig motetTitle
syn match motetWordRig /\v^rig%([ \t#"]|$)@=/ contained
hi def link motetWordRig motetBlockWord
syn match motetOpenerRig /\v^rig%([ \t#"]|$)@=.*$/ contained contains=motetWordRig,@motetAtom,motetTitleRig
syn region motetBlockRig start=/\v^rig%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerRig,motetLineRig,motetLineRigHeight,motetLineRigBreathes,motetLineRigModel,motetComment

" joints
syn match motetLineJoints /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetChoiceCellJoints /\v%(^[ \t]+[^ \t#"]+[ \t]+[^ \t#"]+.*[ \t])@<=%(finger|other|spine|face|foot|hand|head|root|arm|eye|leg|lid|xyz|xzy|yxz|yzx|zxy|zyx)%([ \t#"]|$)@=/ contained
hi def link motetChoiceCellJoints motetChoiceWord
syn match motetRowJoints /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom,motetChoiceCellJoints
syn match motetColumnJoints /\v%(^|[ \t"])@<=%(joint|order|part|on|rx|ry|rz|x|y|z)%([ \t#"]|$)@=/ contained
hi def link motetColumnJoints motetColumnWord
syn match motetColumnsJoints /\v^[ \t]+joint%([ \t#"]|$)@=.*$/ contained contains=motetColumnJoints,@motetAtom
syn match motetWordJoints /\v^joints%([ \t#"]|$)@=/ contained
hi def link motetWordJoints motetBlockWord
syn match motetOpenerJoints /\v^joints%([ \t#"]|$)@=.*$/ contained contains=motetWordJoints,@motetAtom
syn region motetBlockJoints start=/\v^joints%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerJoints,motetLineJoints,motetRowJoints,motetColumnsJoints,motetComment

" channels
syn match motetLineChannels /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetChoiceCellChannels /\v%(^[ \t]+[^ \t#"]+.*[ \t])@<=%(goal\.swivel|scale\.xyz|scale\.xy|scale\.xz|scale\.yz|scale\.x|scale\.y|scale\.z|goal\.x|goal\.y|goal\.z|move\.x|move\.y|move\.z|turn\.x|turn\.y|turn\.z|flip|keep)%([ \t#"]|$)@=/ contained
hi def link motetChoiceCellChannels motetChoiceWord
syn match motetRowChannels /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom,motetChoiceCellChannels
syn match motetColumnChannels /\v%(^|[ \t"])@<=%(positive|channel|drives|mirror|joint|range|gain|rest|unit)%([ \t#"]|$)@=/ contained
hi def link motetColumnChannels motetColumnWord
syn match motetColumnsChannels /\v^[ \t]+channel%([ \t#"]|$)@=.*$/ contained contains=motetColumnChannels,@motetAtom
syn match motetWordChannels /\v^channels%([ \t#"]|$)@=/ contained
hi def link motetWordChannels motetBlockWord
syn match motetOpenerChannels /\v^channels%([ \t#"]|$)@=.*$/ contained contains=motetWordChannels,@motetAtom
syn region motetBlockChannels start=/\v^channels%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerChannels,motetLineChannels,motetRowChannels,motetColumnsChannels,motetComment

" chains
syn match motetLineChains /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetRowChains /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetColumnChains /\v%(^|[ \t"])@<=%(middle|bends|goal|root|end)%([ \t#"]|$)@=/ contained
hi def link motetColumnChains motetColumnWord
syn match motetColumnsChains /\v^[ \t]+goal%([ \t#"]|$)@=.*$/ contained contains=motetColumnChains,@motetAtom
syn match motetWordChains /\v^chains%([ \t#"]|$)@=/ contained
hi def link motetWordChains motetBlockWord
syn match motetOpenerChains /\v^chains%([ \t#"]|$)@=.*$/ contained contains=motetWordChains,@motetAtom
syn region motetBlockChains start=/\v^chains%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerChains,motetLineChains,motetRowChains,motetColumnsChains,motetComment

" pairs
syn match motetLinePairs /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetRowPairs /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetColumnPairs /\v%(^|[ \t"])@<=%(right|left)%([ \t#"]|$)@=/ contained
hi def link motetColumnPairs motetColumnWord
syn match motetColumnsPairs /\v^[ \t]+left%([ \t#"]|$)@=.*$/ contained contains=motetColumnPairs,@motetAtom
syn match motetWordPairs /\v^pairs%([ \t#"]|$)@=/ contained
hi def link motetWordPairs motetBlockWord
syn match motetOpenerPairs /\v^pairs%([ \t#"]|$)@=.*$/ contained contains=motetWordPairs,@motetAtom
syn region motetBlockPairs start=/\v^pairs%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerPairs,motetLinePairs,motetRowPairs,motetColumnsPairs,motetComment

" pose
syn match motetLinePose /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetClauseWordOpenerPose /\v%(^|[ \t"])@<=%(mirrors|from)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordOpenerPose motetClauseWord
syn match motetTitlePose /\v%(^pose[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitlePose motetTitle
syn match motetWordPose /\v^pose%([ \t#"]|$)@=/ contained
hi def link motetWordPose motetBlockWord
syn match motetOpenerPose /\v^pose%([ \t#"]|$)@=.*$/ contained contains=motetWordPose,@motetAtom,motetClauseWordOpenerPose,motetTitlePose
syn region motetBlockPose start=/\v^pose%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerPose,motetLinePose,motetComment

" blocking
syn match motetLineBlocking /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetRowBlocking /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetColumnBlocking /\v%(^|[ \t"])@<=%(drift|until|ease|pose|at)%([ \t#"]|$)@=/ contained
hi def link motetColumnBlocking motetColumnWord
syn match motetColumnsBlocking /\v^[ \t]+at%([ \t#"]|$)@=.*$/ contained contains=motetColumnBlocking,@motetAtom
syn match motetClauseWordOpenerBlocking /\v%(^|[ \t"])@<=%(every)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordOpenerBlocking motetClauseWord
syn match motetWordBlocking /\v^blocking%([ \t#"]|$)@=/ contained
hi def link motetWordBlocking motetBlockWord
syn match motetOpenerBlocking /\v^blocking%([ \t#"]|$)@=.*$/ contained contains=motetWordBlocking,@motetAtom,motetClauseWordOpenerBlocking
syn region motetBlockBlocking start=/\v^blocking%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerBlocking,motetLineBlocking,motetRowBlocking,motetColumnsBlocking,motetComment

" track
syn match motetLineTrack /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetRowTrack /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetColumnTrack /\v%(^|[ \t"])@<=[^ \t#"]+%([ \t#"]|$)@=/ contained
hi def link motetColumnTrack motetColumnWord
syn match motetColumnsTrack /\v^[ \t]+at%([ \t#"]|$)@=.*$/ contained contains=motetColumnTrack,@motetAtom
syn match motetClauseWordOpenerTrack /\v%(^|[ \t"])@<=%(every|in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordOpenerTrack motetClauseWord
syn match motetTitleTrack /\v%(^track[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleTrack motetTitle
syn match motetWordTrack /\v^track%([ \t#"]|$)@=/ contained
hi def link motetWordTrack motetBlockWord
syn match motetOpenerTrack /\v^track%([ \t#"]|$)@=.*$/ contained contains=motetWordTrack,@motetAtom,motetClauseWordOpenerTrack,motetTitleTrack
syn region motetBlockTrack start=/\v^track%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerTrack,motetLineTrack,motetRowTrack,motetColumnsTrack,motetComment

" amend
syn match motetLineAmend /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetRowAmend /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetColumnAmend /\v%(^|[ \t"])@<=[^ \t#"]+%([ \t#"]|$)@=/ contained
hi def link motetColumnAmend motetColumnWord
syn match motetColumnsAmend /\v^[ \t]+at%([ \t#"]|$)@=.*$/ contained contains=motetColumnAmend,@motetAtom
syn match motetClauseWordOpenerAmend /\v%(^|[ \t"])@<=%(in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordOpenerAmend motetClauseWord
syn match motetTitleAmend /\v%(^amend[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleAmend motetTitle
syn match motetWordAmend /\v^amend%([ \t#"]|$)@=/ contained
hi def link motetWordAmend motetBlockWord
syn match motetOpenerAmend /\v^amend%([ \t#"]|$)@=.*$/ contained contains=motetWordAmend,@motetAtom,motetClauseWordOpenerAmend,motetTitleAmend
syn region motetBlockAmend start=/\v^amend%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerAmend,motetLineAmend,motetRowAmend,motetColumnsAmend,motetComment

" eases
syn match motetLineEases /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetWordEases /\v^eases%([ \t#"]|$)@=/ contained
hi def link motetWordEases motetBlockWord
syn match motetOpenerEases /\v^eases%([ \t#"]|$)@=.*$/ contained contains=motetWordEases,@motetAtom
syn region motetBlockEases start=/\v^eases%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerEases,motetLineEases,motetComment

" overlap
syn match motetLineOverlap /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetWordOverlap /\v^overlap%([ \t#"]|$)@=/ contained
hi def link motetWordOverlap motetBlockWord
syn match motetOpenerOverlap /\v^overlap%([ \t#"]|$)@=.*$/ contained contains=motetWordOverlap,@motetAtom
syn region motetBlockOverlap start=/\v^overlap%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerOverlap,motetLineOverlap,motetComment

" follow
syn match motetClauseWordPlainFollow /\v%(^|[ \t"])@<=%(of)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordPlainFollow motetClauseWord
syn match motetLineFollow /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom,motetClauseWordPlainFollow
syn match motetEntryFollowLag /\v^[ \t]+\zslag%([ \t#"]|$)@=/ contained
hi def link motetEntryFollowLag motetEntryWord
syn match motetLineFollowLag /\v^[ \t]+lag%([ \t#"]|$)@=.*$/ contained contains=motetEntryFollowLag,@motetAtom
syn match motetEntryFollowSpring /\v^[ \t]+\zsspring%([ \t#"]|$)@=/ contained
hi def link motetEntryFollowSpring motetEntryWord
syn match motetClauseWordFollowSpring /\v%(^|[ \t"])@<=%(overshoot|arrives|damping)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordFollowSpring motetClauseWord
syn match motetLineFollowSpring /\v^[ \t]+spring%([ \t#"]|$)@=.*$/ contained contains=motetEntryFollowSpring,@motetAtom,motetClauseWordFollowSpring
syn match motetClauseWordOpenerFollow /\v%(^|[ \t"])@<=%(after)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordOpenerFollow motetClauseWord
syn match motetTitleFollow /\v%(^follow[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleFollow motetTitle
syn match motetWordFollow /\v^follow%([ \t#"]|$)@=/ contained
hi def link motetWordFollow motetBlockWord
syn match motetOpenerFollow /\v^follow%([ \t#"]|$)@=.*$/ contained contains=motetWordFollow,@motetAtom,motetClauseWordOpenerFollow,motetTitleFollow
syn region motetBlockFollow start=/\v^follow%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerFollow,motetLineFollow,motetLineFollowLag,motetLineFollowSpring,motetComment

" layer
syn match motetLineLayer /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetEntryLayerAdds /\v^[ \t]+\zsadds%([ \t#"]|$)@=/ contained
hi def link motetEntryLayerAdds motetEntryWord
syn match motetLineLayerAdds /\v^[ \t]+adds%([ \t#"]|$)@=.*$/ contained contains=motetEntryLayerAdds,@motetAtom
syn match motetEntryLayerReplaces /\v^[ \t]+\zsreplaces%([ \t#"]|$)@=/ contained
hi def link motetEntryLayerReplaces motetEntryWord
syn match motetLineLayerReplaces /\v^[ \t]+replaces%([ \t#"]|$)@=.*$/ contained contains=motetEntryLayerReplaces,@motetAtom
syn match motetEntryLayerStrength /\v^[ \t]+\zsstrength%([ \t#"]|$)@=/ contained
hi def link motetEntryLayerStrength motetEntryWord
syn match motetLineLayerStrength /\v^[ \t]+strength%([ \t#"]|$)@=.*$/ contained contains=motetEntryLayerStrength,@motetAtom
syn match motetTitleLayer /\v%(^layer[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleLayer motetTitle
syn match motetWordLayer /\v^layer%([ \t#"]|$)@=/ contained
hi def link motetWordLayer motetBlockWord
syn match motetOpenerLayer /\v^layer%([ \t#"]|$)@=.*$/ contained contains=motetWordLayer,@motetAtom,motetTitleLayer
syn region motetBlockLayer start=/\v^layer%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerLayer,motetLineLayer,motetLineLayerAdds,motetLineLayerReplaces,motetLineLayerStrength,motetComment

" quiver
syn match motetLineQuiver /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetEntryQuiverBand /\v^[ \t]+\zsband%([ \t#"]|$)@=/ contained
hi def link motetEntryQuiverBand motetEntryWord
syn match motetLineQuiverBand /\v^[ \t]+band%([ \t#"]|$)@=.*$/ contained contains=motetEntryQuiverBand,@motetAtom
syn match motetEntryQuiverSeed /\v^[ \t]+\zsseed%([ \t#"]|$)@=/ contained
hi def link motetEntryQuiverSeed motetEntryWord
syn match motetLineQuiverSeed /\v^[ \t]+seed%([ \t#"]|$)@=.*$/ contained contains=motetEntryQuiverSeed,@motetAtom
syn match motetClauseWordOpenerQuiver /\v%(^|[ \t"])@<=%(every|in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordOpenerQuiver motetClauseWord
syn match motetTitleQuiver /\v%(^quiver[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleQuiver motetTitle
syn match motetWordQuiver /\v^quiver%([ \t#"]|$)@=/ contained
hi def link motetWordQuiver motetBlockWord
syn match motetOpenerQuiver /\v^quiver%([ \t#"]|$)@=.*$/ contained contains=motetWordQuiver,@motetAtom,motetClauseWordOpenerQuiver,motetTitleQuiver
syn region motetBlockQuiver start=/\v^quiver%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerQuiver,motetLineQuiver,motetLineQuiverBand,motetLineQuiverSeed,motetComment

" breath
syn match motetLineBreath /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetEntryBreathCount /\v^[ \t]+\zscount%([ \t#"]|$)@=/ contained
hi def link motetEntryBreathCount motetEntryWord
syn match motetLineBreathCount /\v^[ \t]+count%([ \t#"]|$)@=.*$/ contained contains=motetEntryBreathCount,@motetAtom
syn match motetEntryBreathInhale /\v^[ \t]+\zsinhale%([ \t#"]|$)@=/ contained
hi def link motetEntryBreathInhale motetEntryWord
syn match motetLineBreathInhale /\v^[ \t]+inhale%([ \t#"]|$)@=.*$/ contained contains=motetEntryBreathInhale,@motetAtom
syn match motetEntryBreathPause /\v^[ \t]+\zspause%([ \t#"]|$)@=/ contained
hi def link motetEntryBreathPause motetEntryWord
syn match motetLineBreathPause /\v^[ \t]+pause%([ \t#"]|$)@=.*$/ contained contains=motetEntryBreathPause,@motetAtom
syn match motetEntryBreathStarts /\v^[ \t]+\zsstarts%([ \t#"]|$)@=/ contained
hi def link motetEntryBreathStarts motetEntryWord
syn match motetLineBreathStarts /\v^[ \t]+starts%([ \t#"]|$)@=.*$/ contained contains=motetEntryBreathStarts,@motetAtom
syn match motetClauseWordOpenerBreath /\v%(^|[ \t"])@<=%(every|in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordOpenerBreath motetClauseWord
syn match motetTitleBreath /\v%(^breath[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleBreath motetTitle
syn match motetWordBreath /\v^breath%([ \t#"]|$)@=/ contained
hi def link motetWordBreath motetBlockWord
syn match motetOpenerBreath /\v^breath%([ \t#"]|$)@=.*$/ contained contains=motetWordBreath,@motetAtom,motetClauseWordOpenerBreath,motetTitleBreath
syn region motetBlockBreath start=/\v^breath%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerBreath,motetLineBreath,motetLineBreathCount,motetLineBreathInhale,motetLineBreathPause,motetLineBreathStarts,motetComment

" plant
syn match motetClauseWordPlainPlant /\v%(^|[ \t"])@<=%(on)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordPlainPlant motetClauseWord
syn match motetLinePlant /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom,motetClauseWordPlainPlant
syn match motetWordPlant /\v^plant%([ \t#"]|$)@=/ contained
hi def link motetWordPlant motetBlockWord
syn match motetOpenerPlant /\v^plant%([ \t#"]|$)@=.*$/ contained contains=motetWordPlant,@motetAtom
syn region motetBlockPlant start=/\v^plant%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerPlant,motetLinePlant,motetComment

" change
syn match motetLineChange /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetEntryChangeAmplify /\v^[ \t]+\zsamplify%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeAmplify motetEntryWord
syn match motetLineChangeAmplify /\v^[ \t]+amplify%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeAmplify,@motetAtom
syn match motetEntryChangeScale /\v^[ \t]+\zsscale%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeScale motetEntryWord
syn match motetLineChangeScale /\v^[ \t]+scale%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeScale,@motetAtom
syn match motetEntryChangeOffset /\v^[ \t]+\zsoffset%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeOffset motetEntryWord
syn match motetLineChangeOffset /\v^[ \t]+offset%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeOffset,@motetAtom
syn match motetEntryChangeDelay /\v^[ \t]+\zsdelay%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeDelay motetEntryWord
syn match motetLineChangeDelay /\v^[ \t]+delay%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeDelay,@motetAtom
syn match motetEntryChangeMirror /\v^[ \t]+\zsmirror%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeMirror motetEntryWord
syn match motetLineChangeMirror /\v^[ \t]+mirror%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeMirror,@motetAtom
syn match motetEntryChangeWithout /\v^[ \t]+\zswithout%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeWithout motetEntryWord
syn match motetClauseWordChangeWithout /\v%(^|[ \t"])@<=%(after|in)%([ \t#"]|$)@=/ contained
hi def link motetClauseWordChangeWithout motetClauseWord
syn match motetChoiceWordChangeWithout /\v%(^|[ \t"])@<=%(blocking|overlap|breath|follow|quiver|layer|notes|plant|track)%([ \t#"]|$)@=/ contained
hi def link motetChoiceWordChangeWithout motetChoiceWord
syn match motetLineChangeWithout /\v^[ \t]+without%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeWithout,@motetAtom,motetClauseWordChangeWithout,motetChoiceWordChangeWithout
syn match motetEntryChangeReseed /\v^[ \t]+\zsreseed%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeReseed motetEntryWord
syn match motetLineChangeReseed /\v^[ \t]+reseed%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeReseed,@motetAtom
syn match motetEntryChangeSwap /\v^[ \t]+\zsswap%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeSwap motetEntryWord
syn match motetLineChangeSwap /\v^[ \t]+swap%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeSwap,@motetAtom
syn match motetEntryChangeReverse /\v^[ \t]+\zsreverse%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeReverse motetEntryWord
syn match motetLineChangeReverse /\v^[ \t]+reverse%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeReverse,@motetAtom
syn match motetEntryChangeStart /\v^[ \t]+\zsstart%([ \t#"]|$)@=/ contained
hi def link motetEntryChangeStart motetEntryWord
syn match motetLineChangeStart /\v^[ \t]+start%([ \t#"]|$)@=.*$/ contained contains=motetEntryChangeStart,@motetAtom
syn match motetWordChange /\v^change%([ \t#"]|$)@=/ contained
hi def link motetWordChange motetBlockWord
syn match motetOpenerChange /\v^change%([ \t#"]|$)@=.*$/ contained contains=motetWordChange,@motetAtom
syn region motetBlockChange start=/\v^change%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerChange,motetLineChange,motetLineChangeAmplify,motetLineChangeScale,motetLineChangeOffset,motetLineChangeDelay,motetLineChangeMirror,motetLineChangeWithout,motetLineChangeReseed,motetLineChangeSwap,motetLineChangeReverse,motetLineChangeStart,motetComment

" notes
syn match motetLineNotes /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetChoiceCellNotes /\v%(^.*[ \t])@<=%(done|open)%([ \t#"]|$)@=/ contained
hi def link motetChoiceCellNotes motetChoiceWord
syn match motetRowNotes /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom,motetChoiceCellNotes
syn match motetColumnNotes /\v%(^|[ \t"])@<=%(control|status|note|at)%([ \t#"]|$)@=/ contained
hi def link motetColumnNotes motetColumnWord
syn match motetColumnsNotes /\v^[ \t]+at%([ \t#"]|$)@=.*$/ contained contains=motetColumnNotes,@motetAtom
syn match motetWordNotes /\v^notes%([ \t#"]|$)@=/ contained
hi def link motetWordNotes motetBlockWord
syn match motetOpenerNotes /\v^notes%([ \t#"]|$)@=.*$/ contained contains=motetWordNotes,@motetAtom
syn region motetBlockNotes start=/\v^notes%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerNotes,motetLineNotes,motetRowNotes,motetColumnsNotes,motetComment

" house
syn match motetLineHouse /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetChoiceCellHouse /\v%(^[ \t]+[^ \t#"]+.*[ \t])@<=%(warning|error|note|off)%([ \t#"]|$)@=/ contained
hi def link motetChoiceCellHouse motetChoiceWord
syn match motetRowHouse /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom,motetChoiceCellHouse
syn match motetColumnHouse /\v%(^|[ \t"])@<=%(level|limit|rule)%([ \t#"]|$)@=/ contained
hi def link motetColumnHouse motetColumnWord
syn match motetColumnsHouse /\v^[ \t]+rule%([ \t#"]|$)@=.*$/ contained contains=motetColumnHouse,@motetAtom
syn match motetWordHouse /\v^house%([ \t#"]|$)@=/ contained
hi def link motetWordHouse motetBlockWord
syn match motetOpenerHouse /\v^house%([ \t#"]|$)@=.*$/ contained contains=motetWordHouse,@motetAtom
syn region motetBlockHouse start=/\v^house%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerHouse,motetLineHouse,motetRowHouse,motetColumnsHouse,motetComment

" family
syn match motetLineFamily /\v^[ \t]+[^ \t#].*$/ contained contains=@motetAtom
syn match motetEntryFamilyMembers /\v^[ \t]+\zsmembers%([ \t#"]|$)@=/ contained
hi def link motetEntryFamilyMembers motetEntryWord
syn match motetLineFamilyMembers /\v^[ \t]+members%([ \t#"]|$)@=.*$/ contained contains=motetEntryFamilyMembers,@motetAtom
syn match motetEntryFamilyEach /\v^[ \t]+\zseach%([ \t#"]|$)@=/ contained
hi def link motetEntryFamilyEach motetEntryWord
syn match motetLineFamilyEach /\v^[ \t]+each%([ \t#"]|$)@=.*$/ contained contains=motetEntryFamilyEach,@motetAtom
syn match motetEntryFamilyName /\v^[ \t]+\zsname%([ \t#"]|$)@=/ contained
hi def link motetEntryFamilyName motetEntryWord
syn match motetLineFamilyName /\v^[ \t]+name%([ \t#"]|$)@=.*$/ contained contains=motetEntryFamilyName,@motetAtom
syn match motetEntryFamilyOpening /\v^[ \t]+\zsopening%([ \t#"]|$)@=/ contained
hi def link motetEntryFamilyOpening motetEntryWord
syn match motetChoiceWordFamilyOpening /\v%(^|[ \t"])@<=%(same)%([ \t#"]|$)@=/ contained
hi def link motetChoiceWordFamilyOpening motetChoiceWord
syn match motetLineFamilyOpening /\v^[ \t]+opening%([ \t#"]|$)@=.*$/ contained contains=motetEntryFamilyOpening,@motetAtom,motetChoiceWordFamilyOpening
syn match motetEntryFamilyPhases /\v^[ \t]+\zsphases%([ \t#"]|$)@=/ contained
hi def link motetEntryFamilyPhases motetEntryWord
syn match motetChoiceWordFamilyPhases /\v%(^|[ \t"])@<=%(spread)%([ \t#"]|$)@=/ contained
hi def link motetChoiceWordFamilyPhases motetChoiceWord
syn match motetLineFamilyPhases /\v^[ \t]+phases%([ \t#"]|$)@=.*$/ contained contains=motetEntryFamilyPhases,@motetAtom,motetChoiceWordFamilyPhases
syn match motetEntryFamilyLengths /\v^[ \t]+\zslengths%([ \t#"]|$)@=/ contained
hi def link motetEntryFamilyLengths motetEntryWord
syn match motetChoiceWordFamilyLengths /\v%(^|[ \t"])@<=%(same)%([ \t#"]|$)@=/ contained
hi def link motetChoiceWordFamilyLengths motetChoiceWord
syn match motetLineFamilyLengths /\v^[ \t]+lengths%([ \t#"]|$)@=.*$/ contained contains=motetEntryFamilyLengths,@motetAtom,motetChoiceWordFamilyLengths
syn match motetEntryFamilyDistinct /\v^[ \t]+\zsdistinct%([ \t#"]|$)@=/ contained
hi def link motetEntryFamilyDistinct motetEntryWord
syn match motetLineFamilyDistinct /\v^[ \t]+distinct%([ \t#"]|$)@=.*$/ contained contains=motetEntryFamilyDistinct,@motetAtom
syn match motetTitleFamily /\v%(^family[ \t]+)@<=[^ \t#"]+/ contained
hi def link motetTitleFamily motetTitle
syn match motetWordFamily /\v^family%([ \t#"]|$)@=/ contained
hi def link motetWordFamily motetBlockWord
syn match motetOpenerFamily /\v^family%([ \t#"]|$)@=.*$/ contained contains=motetWordFamily,@motetAtom,motetTitleFamily
syn region motetBlockFamily start=/\v^family%([ \t#"]|$)@=/rs=s end=/\v^[^ \t#]@=/ keepend contains=motetOpenerFamily,motetLineFamily,motetLineFamilyMembers,motetLineFamilyEach,motetLineFamilyName,motetLineFamilyOpening,motetLineFamilyPhases,motetLineFamilyLengths,motetLineFamilyDistinct,motetComment


hi def link motetBlockWord Statement
hi def link motetEntryWord Type
hi def link motetClauseWord Keyword
hi def link motetChoiceWord Constant
hi def link motetColumnWord Identifier
hi def link motetTitle Function
hi def link motetPath Identifier
hi def link motetPattern Special
hi def link motetNumber Number
hi def link motetTime Number
hi def link motetText String
hi def link motetEmpty Comment
hi def link motetWrong Error
hi def link motetComment Comment
hi def link motetAllowance PreProc
hi def link motetMark Operator

let b:current_syntax = 'motet'
let &cpo = s:cpo
unlet s:cpo
