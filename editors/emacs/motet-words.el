;;; motet-words.el --- The words of motion sheets  -*- lexical-binding: t -*-

;;; Commentary:
;; Made by `go test ./editors/colours -update` from the grammar's tables; not to be changed by hand.

;;; Code:
(defconst motet-blocks
  '(("sheet" :titled t :opener ("sheet" nil nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines (("rig" ("in") nil)
            ("from" ("in") nil)
            ("rate" nil nil)
            ("tempo" nil nil)
            ("beat" nil nil)
            ("cycle" nil nil)
            ("span" nil nil)
            ("leaves" ("in" "at") nil)
            ("rejoins" ("in" "at") nil)
            ("phase" nil nil)
            ("advance" nil nil)
            ("grid" nil nil)
            ("view" nil ("front" "side" "three-quarter" "round"))))
    ("rig" :titled t :opener ("rig" nil nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines (("height" nil nil)
            ("breathes" nil nil)
            ("model" nil nil)))
    ("joints" :titled nil :opener ("joints" nil nil)
     :plain ("" nil nil)
     :columns ("joint" "on" "x" "y" "z" "rx" "ry" "rz" "order" "part") :channels nil :names 2
     :choices ("xyz" "xzy" "yxz" "yzx" "zxy" "zyx" "root" "spine" "head" "arm" "hand" "finger" "leg" "foot" "face" "eye" "lid" "other")
     :lines nil)
    ("channels" :titled nil :opener ("channels" nil nil)
     :plain ("" nil nil)
     :columns ("channel" "joint" "drives" "gain" "unit" "range" "mirror" "positive" "rest") :channels nil :names 1
     :choices ("move.x" "move.y" "move.z" "turn.x" "turn.y" "turn.z" "scale.x" "scale.y" "scale.z" "scale.xy" "scale.xz" "scale.yz" "scale.xyz" "goal.x" "goal.y" "goal.z" "goal.swivel" "keep" "flip")
     :lines nil)
    ("chains" :titled nil :opener ("chains" nil nil)
     :plain ("" nil nil)
     :columns ("goal" "root" "middle" "end" "bends") :channels nil :names 4
     :choices nil
     :lines nil)
    ("pairs" :titled nil :opener ("pairs" nil nil)
     :plain ("" nil nil)
     :columns ("left" "right") :channels nil :names 2
     :choices nil
     :lines nil)
    ("pose" :titled t :opener ("pose" ("mirrors" "from") nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines nil)
    ("blocking" :titled nil :opener ("blocking" ("every") nil)
     :plain ("" nil nil)
     :columns ("at" "pose" "until" "drift" "ease") :channels nil :names 0
     :choices nil
     :lines nil)
    ("track" :titled t :opener ("track" ("in" "every") nil)
     :plain ("" nil nil)
     :columns ("at" "ease") :channels t :names 0
     :choices nil
     :lines nil)
    ("amend" :titled t :opener ("amend" ("in") nil)
     :plain ("" nil nil)
     :columns ("at" "ease") :channels t :names 0
     :choices nil
     :lines nil)
    ("eases" :titled nil :opener ("eases" nil nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines nil)
    ("overlap" :titled nil :opener ("overlap" nil nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines nil)
    ("follow" :titled t :opener ("follow" ("after") nil)
     :plain ("" ("of") nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines (("lag" nil nil)
            ("spring" ("arrives" "overshoot" "damping") nil)))
    ("layer" :titled t :opener ("layer" nil nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines (("adds" nil nil)
            ("replaces" nil nil)
            ("strength" nil nil)))
    ("quiver" :titled t :opener ("quiver" ("in" "every") nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines (("band" nil nil)
            ("seed" nil nil)))
    ("breath" :titled t :opener ("breath" ("in" "every") nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines (("count" nil nil)
            ("inhale" nil nil)
            ("pause" nil nil)
            ("starts" nil nil)))
    ("plant" :titled nil :opener ("plant" nil nil)
     :plain ("" ("on") nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines nil)
    ("change" :titled nil :opener ("change" nil nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines (("amplify" nil nil)
            ("scale" nil nil)
            ("offset" nil nil)
            ("delay" nil nil)
            ("mirror" nil nil)
            ("without" ("in" "after") ("quiver" "breath" "track" "follow" "layer" "plant" "notes" "blocking" "overlap"))
            ("reseed" nil nil)
            ("swap" nil nil)
            ("reverse" nil nil)
            ("start" nil nil)))
    ("notes" :titled nil :opener ("notes" nil nil)
     :plain ("" nil nil)
     :columns ("at" "status" "control" "note") :channels nil :names 0
     :choices ("open" "done")
     :lines nil)
    ("house" :titled nil :opener ("house" nil nil)
     :plain ("" nil nil)
     :columns ("rule" "level" "limit") :channels nil :names 1
     :choices ("error" "warning" "note" "off")
     :lines nil)
    ("family" :titled t :opener ("family" nil nil)
     :plain ("" nil nil)
     :columns nil :channels nil :names 0
     :choices nil
     :lines (("members" nil nil)
            ("each" nil nil)
            ("name" nil nil)
            ("opening" nil ("same"))
            ("phases" nil ("spread"))
            ("lengths" nil ("same"))
            ("distinct" nil nil))))
  "The kinds of blocks: their first word, and the words of their lines.
A line is (WORD CLAUSES CHOICES).")

(defconst motet-atoms
  '(("\\`\\(?:\\.\\)\\'" . shadow)
    ("\\`\\(?:[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\)\\'" . nil)
    ("\\`\\(?:[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\(?:[~^>=]\\|@[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\(?:,[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\)?\\)\\)\\'" . motet-marked)
    ("\\`\\(?:[+-]?\\(?:[0-9]+\\(?:\\.[0-9]+\\|/[0-9]+\\)?[fbs]\\)\\(?:[+-][0-9]+\\(?:\\.[0-9]+\\|/[0-9]+\\)?[fbs]\\)*\\)\\'" . font-lock-constant-face)
    ("\\`\\(?:[+-]?[0-9]+\\(?:\\.[0-9]+\\)?%\\)\\'" . nil)
    ("\\`\\(?:\\(?:[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\|[0-9]+/[0-9]+\\)\\(?:\\(?:[cC][mM]/[sS]\\|[dD][eE][gG]/[sS]\\|[cC][mM]\\|[dD][eE][gG]\\|[hH][zZ]\\|[bB][pP][mM]\\|[fF][pP][sS]\\)\\|%\\|s\\|f\\)\\)\\'" . nil)
    ("\\`\\(?:[[:alpha:]]\\(?:[[:alnum:][:nonascii:]_-]*[[:alnum:][:nonascii:]_]\\)?\\(?:\\.\\(?:[[:alnum:][:nonascii:]_-]*[[:alnum:][:nonascii:]_]\\)\\)*\\)\\'" . nil)
    ("\\`\\(?:[[:alpha:]]\\(?:[[:alnum:][:nonascii:]_-]*[[:alnum:][:nonascii:]_]\\)?\\(?:\\.\\(?:[[:alnum:][:nonascii:]_-]*[[:alnum:][:nonascii:]_]\\)\\)*/[[:alpha:]]\\(?:[[:alnum:][:nonascii:]_-]*[[:alnum:][:nonascii:]_]\\)?\\(?:\\.\\(?:[[:alnum:][:nonascii:]_-]*[[:alnum:][:nonascii:]_]\\)\\)*\\)\\'" . font-lock-variable-name-face)
    ("\\`\\(?:[[:alnum:][:nonascii:]_.-]*\\*[[:alnum:][:nonascii:]_.*-]*\\(?:/[[:alnum:][:nonascii:]_.*-]+\\)?\\|[[:alnum:][:nonascii:]_.-]+/[[:alnum:][:nonascii:]_.-]*\\*[[:alnum:][:nonascii:]_.*-]*\\)\\'" . font-lock-variable-name-face)
    ("\\`\\(?:\\(?:[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\|[+-]?\\(?:[0-9]+\\(?:\\.[0-9]+\\|/[0-9]+\\)?[fbs]\\)\\(?:[+-][0-9]+\\(?:\\.[0-9]+\\|/[0-9]+\\)?[fbs]\\)*\\)\\.\\.\\(?:[+-]?\\(?:[0-9]+\\(?:\\.[0-9]+\\|/[0-9]+\\)?[fbs]\\)\\(?:[+-][0-9]+\\(?:\\.[0-9]+\\|/[0-9]+\\)?[fbs]\\)*\\|[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\(?:\\(?:[cC][mM]/[sS]\\|[dD][eE][gG]/[sS]\\|[cC][mM]\\|[dD][eE][gG]\\|[hH][zZ]\\|[bB][pP][mM]\\|[fF][pP][sS]\\)\\|%\\|s\\|f\\)?\\)\\)\\'" . nil)
    ("\\`\\(?:[+-][xyz]\\)\\'" . nil)
    ("\\`\\(?:[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\(?:,[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\)\\{3\\}\\)\\'" . nil)
    ("\\`\\(?:[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\(?:\\(?:\\(?:[cC][mM]/[sS]\\|[dD][eE][gG]/[sS]\\|[cC][mM]\\|[dD][eE][gG]\\|[hH][zZ]\\|[bB][pP][mM]\\|[fF][pP][sS]\\)\\|%\\|s\\|f\\)\\|\\(?:[kK][eE][yY][sS]\\|[jJ][oO][iI][nN][tT][sS]\\|[kK][bB]\\|[xX]\\)\\)\\(?:,[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\(?:\\(?:\\(?:[cC][mM]/[sS]\\|[dD][eE][gG]/[sS]\\|[cC][mM]\\|[dD][eE][gG]\\|[hH][zZ]\\|[bB][pP][mM]\\|[fF][pP][sS]\\)\\|%\\|s\\|f\\)\\|\\(?:[kK][eE][yY][sS]\\|[jJ][oO][iI][nN][tT][sS]\\|[kK][bB]\\|[xX]\\)\\)\\)+\\|[+-]?[0-9]+\\(?:\\.[0-9]+\\)?\\(?:[kK][eE][yY][sS]\\|[jJ][oO][iI][nN][tT][sS]\\|[kK][bB]\\|[xX]\\)\\)\\'" . nil)
    ("\\`\\(?:[0-9]+/[0-9]+\\)\\'" . nil)
    ("\\`\\(?:%\\)\\'" . nil))
  "What an atom may be and its face; the first that fits counts.
The face `motet-marked' stands for a number and its mark.")

(defconst motet-faces
  '(("Block" . font-lock-keyword-face)
    ("Entry" . font-lock-type-face)
    ("Clause" . font-lock-keyword-face)
    ("Choice" . font-lock-constant-face)
    ("Column" . font-lock-variable-name-face)
    ("Title" . font-lock-function-name-face)
    ("Mark" . font-lock-builtin-face)
    ("Text" . font-lock-string-face)
    ("Wrong" . error)
    ("Allowance" . font-lock-preprocessor-face))
  "The face of each role that a word can have.")

(provide 'motet-words)
;;; motet-words.el ends here
