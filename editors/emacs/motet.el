;;; motet.el --- Motion sheets in Emacs  -*- lexical-binding: t -*-

;;; Commentary:
;; Load this from your init file: (load "/path/to/motet.el")

;;; Code:
(define-derived-mode motet-mode prog-mode "Motet"
  "Mode for motion sheets."
  (setq-local comment-start "# "
              comment-start-skip "#+ *"
              indent-tabs-mode nil))

(add-to-list 'auto-mode-alist '("\\.motet\\'" . motet-mode))

(with-eval-after-load 'eglot
  (add-to-list 'eglot-server-programs '(motet-mode . ("motet" "serve"))))
(add-hook 'motet-mode-hook #'eglot-ensure)

(provide 'motet)
;;; motet.el ends here
