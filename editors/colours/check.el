;;; Run by real_test.go: reads the request in $MOTET_ASK, [{file, places: [[line, byte], …]}, …], and writes into  -*- lexical-binding: t -*-
;;; $MOTET_ANSWER for each file the face at each place.
(require 'json)
(setq motet-client nil coding-system-for-read 'utf-8)
(let ((asks (json-parse-string (with-temp-buffer (insert-file-contents (getenv "MOTET_ASK")) (buffer-string)) :object-type 'alist)) answers)
  (seq-doseq (ask asks)
    (with-temp-buffer
      (insert-file-contents (alist-get 'file ask))
      (motet-mode)
      (font-lock-ensure)
      (push (vconcat (mapcar (lambda (at)
                               (goto-char (point-min))
                               (forward-line (1- (aref at 0)))
                               (goto-char (byte-to-position (+ (position-bytes (point)) (1- (aref at 1)))))
                               (let ((face (get-text-property (point) 'face))) (if face (symbol-name face) "")))
                             (alist-get 'places ask)))
            answers)))
  (with-temp-file (getenv "MOTET_ANSWER") (insert (json-serialize (vconcat (nreverse answers))))))
