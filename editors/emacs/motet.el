;;; motet.el --- Motion sheets in Emacs  -*- lexical-binding: t -*-

;; Package-Requires: ((emacs "27.1"))

;;; Commentary:
;; Put this file and motet-words.el into one folder of your `load-path', and (require 'motet) into your init file.

;;; Code:
(require 'motet-words)
(require 'seq)

(defgroup motet nil "Motion sheets." :group 'languages)

(defcustom motet-client 'eglot
  "Which package speaks to motet's language server."
  :type '(choice (const eglot) (const lsp-mode) (const :tag "none" nil)))

(defcustom motet-command '("motet" "serve")
  "The command that starts the language server."
  :type '(repeat string))

;;;; Where a line stands

(defun motet--opener ()
  "The plist of the block that the line at point belongs to, or nil above the first."
  (save-excursion
    (end-of-line)
    (when (re-search-backward "^\\([^ \t\n#\"]+\\)" nil t)
      (let ((block (assoc (match-string-no-properties 1) motet-blocks)))
        ;; A line of a body that slipped into column 1 belongs to the block above.
        (if (or block (bobp)) block
          (forward-line 0)
          (and (not (bobp)) (progn (forward-line -1) (motet--opener))))))))

(defun motet--heads-table-p ()
  "Whether the line at point is the first of its block that is neither blank nor a comment."
  (save-excursion
    (forward-line 0)
    (let ((more t))
      (while (and more (zerop (forward-line -1)))
        (setq more (looking-at "[ \t]*\\(#.*\\)?$"))))
    (looking-at "[^ \t\n#]")))

;;;; Colours

(defun motet--face (name) "The face of the role NAME." (cdr (assoc name motet-faces)))

(defun motet--atom-face (text)
  "The face of TEXT by what kind of atom it is."
  (let ((case-fold-search nil) (found (seq-find (lambda (a) (string-match-p (car a) text)) motet-atoms)))
    (if found (cdr found) (motet--face "Wrong"))))

(defun motet--word-face (text line)
  "The face of the atom TEXT behind the first word of LINE, a list of its WORD, CLAUSES and CHOICES."
  (cond ((member text (nth 1 line)) (motet--face "Clause"))
        ((member text (nth 2 line)) (motet--face "Choice"))
        (t (motet--atom-face text))))

(defun motet--cell-face (text index block)
  "The face of the atom TEXT, the one number INDEX of a line in the table BLOCK."
  (let ((columns (plist-get block :columns)))
    (cond ((motet--heads-table-p)
           (if (or (plist-get block :channels) (member text columns)) (motet--face "Column") (motet--atom-face text)))
          ((and (>= index (plist-get block :names)) (member text (plist-get block :choices))) (motet--face "Choice"))
          (t (motet--atom-face text)))))

(defun motet--face-at (start end)
  "The face of the atom between START and END."
  (save-excursion
    (goto-char start)
    (forward-line 0)
    (let* ((text (buffer-substring-no-properties start end))
           (opens (and (looking-at "[^ \t\n#\"]+") (assoc (match-string-no-properties 0) motet-blocks)))
           (block (cdr (or opens (motet--opener))))
           (first (and (looking-at "[ \t]*\\([^ \t\n#\"]+\\)") (match-string-no-properties 1)))
           (index 0))
      (while (and (re-search-forward "\"[^\"\n]*\"?\\|[^ \t\n#\"]+" start t) (<= (match-end 0) start))
        (setq index (1+ index)))
      (cond ((and opens (= index 0)) (motet--face "Block"))
            ((and opens (= index 1) (plist-get block :titled)) (motet--face "Title"))
            (opens (motet--word-face text (plist-get block :opener)))
            ((plist-get block :columns) (motet--cell-face text index block))
            (t (let ((line (assoc first (plist-get block :lines))))
                 (if (and line (= index 0)) (motet--face "Entry")
                   (motet--word-face text (or line (plist-get block :plain))))))))))

(defvar motet--found nil "The face of what `motet--match' found.")

(defun motet--match (limit)
  "Find the next comment, text or atom before LIMIT; group 2 is what stands out in it."
  (when (re-search-forward "\\(#[ \t]*\\)\\(allow[ \t]+[^ \t\n:]+:\\)?.*$\\|\"[^\"\n]*\\(\"\\)?\\|[^ \t\n#\"]+" limit t)
    (let ((start (match-beginning 0)) (end (match-end 0)))
      (setq motet--found
            (save-match-data
              (pcase (char-after start)
                (?# 'font-lock-comment-face)
                (?\" (if (and (> end (1+ start)) (eq (char-before end) ?\")) (motet--face "Text") (motet--face "Wrong")))
                (_ (motet--face-at start end)))))
      (when (eq motet--found 'motet-marked)
        (setq motet--found nil)
        (let ((mark (save-excursion (goto-char start) (skip-chars-forward "-+0-9." end) (point))))
          (set-match-data (list start end nil nil mark end)))))
    t))

(defun motet--mark-face ()
  "The face of group 2 of what `motet--match' found."
  (if (eq motet--found 'font-lock-comment-face) (motet--face "Allowance") (motet--face "Mark")))

(defvar motet-font-lock-keywords '((motet--match (0 motet--found nil t) (2 (motet--mark-face) t t))))

;;;; The mode

(defun motet-indent-line ()
  "Indent a line of a body by two columns, and leave one that opens a block in column 1."
  (interactive)
  (let ((behind (- (point) (save-excursion (back-to-indentation) (point)))))
    (indent-line-to
     (save-excursion
       (forward-line 0)
       (cond ((and (looking-at "[^ \t\n#\"]+") (assoc (match-string-no-properties 0) motet-blocks)) 0)
             ((save-excursion (and (zerop (forward-line -1)) (looking-at "[ \t]*$"))) (if (looking-at "[ \t]+[^ \t\n]") 2 0))
             ((save-excursion (and (zerop (forward-line -1)) (motet--opener))) 2)
             (t 0))))
    (when (> behind 0) (forward-char (min behind (- (line-end-position) (point)))))))

(defvar motet-mode-syntax-table
  (let ((table (make-syntax-table)))
    (modify-syntax-entry ?# "<" table)
    (modify-syntax-entry ?\n ">" table)
    (modify-syntax-entry ?- "_" table)
    (modify-syntax-entry ?. "_" table)
    (modify-syntax-entry ?/ "_" table)
    table))

;;;###autoload
(define-derived-mode motet-mode prog-mode "Motet"
  "Mode for motion sheets."
  (setq-local comment-start "# "
              comment-start-skip "#+ *"
              indent-tabs-mode nil
              indent-line-function #'motet-indent-line
              imenu-generic-expression '((nil "^\\([a-z]+[ \t]+[^ \t\n#\"]+\\)" 1))
              font-lock-defaults '(motet-font-lock-keywords t)))

;;;###autoload
(add-to-list 'auto-mode-alist '("\\.motet\\'" . motet-mode))

;;;; Language servers

(defvar eglot-server-programs)
(defvar lsp-language-id-configuration)
(declare-function lsp-register-client "lsp-mode")
(declare-function make-lsp-client "lsp-mode")
(declare-function lsp-stdio-connection "lsp-mode")
(declare-function lsp-activate-on "lsp-mode")
(declare-function lsp-deferred "lsp-mode")

(with-eval-after-load 'eglot
  (add-to-list 'eglot-server-programs (cons 'motet-mode (lambda (&rest _) motet-command))))

(with-eval-after-load 'lsp-mode
  (add-to-list 'lsp-language-id-configuration '(motet-mode . "motet"))
  (lsp-register-client
   (make-lsp-client :new-connection (lsp-stdio-connection (lambda () motet-command))
                    :activation-fn (lsp-activate-on "motet")
                    :server-id 'motet)))

(defun motet--connect ()
  "Start the language server's client that `motet-client' names, where it is installed."
  (pcase motet-client
    ('eglot (when (fboundp 'eglot-ensure) (eglot-ensure)))
    ('lsp-mode (when (fboundp 'lsp-deferred) (lsp-deferred)))))

(add-hook 'motet-mode-hook #'motet--connect)

;;;; The page that plays the sheet

(declare-function eglot-current-server "eglot")
(declare-function eglot-client-capabilities "eglot")
(declare-function eglot--TextDocumentIdentifier "eglot")
(declare-function jsonrpc-request "jsonrpc")
(declare-function lsp-request "lsp-mode")
(declare-function lsp--buffer-uri "lsp-mode")

(defun motet-show-page ()
  "Show in the browser how the sheet moves, from the row at point; the page follows what is typed."
  (interactive)
  (let* ((server (and (fboundp 'eglot-current-server) (eglot-current-server)))
         (uri (cond (server (plist-get (eglot--TextDocumentIdentifier) :uri))
                    ((bound-and-true-p lsp-mode) (lsp--buffer-uri))
                    (t (user-error "No language server is connected; start eglot or lsp-mode first"))))
         (params (list :command "motet.showPage"
                       :arguments (vector uri (list :line (1- (line-number-at-pos nil t)) :character 0))))
         (address (if server (jsonrpc-request server :workspace/executeCommand params)
                    (lsp-request "workspace/executeCommand" params))))
    ;; An eglot that can't show documents leaves the page to us.
    (when (and server (not (plist-get (plist-get (eglot-client-capabilities server) :window) :showDocument)))
      (browse-url address))
    (message "The sheet plays at %s" address)))

(provide 'motet)
;;; motet.el ends here
