-- Run by editors_test.go: opens the sheet named in MOTET_FILE, and prints one line for each thing that was seen to work.
local function say(name, ok, extra) io.stdout:write((ok and 'ok ' or 'FAIL ') .. name .. ' ' .. (extra or '') .. '\n') end
local function wait(test) return vim.wait(10000, test, 50) end

local ok, problem = pcall(function()
  vim.cmd('edit ' .. vim.fn.fnameescape(vim.env.MOTET_FILE))
  local buffer = vim.api.nvim_get_current_buf()
  say('attached', wait(function() return next(vim.lsp.buf_get_clients(buffer)) ~= nil end))
  wait(function() return #vim.diagnostic.get(buffer) > 0 end)
  local found = vim.diagnostic.get(buffer)
  say('diagnostics', #found == 1, found[1] and found[1].message)

  local line = vim.fn.search('^track head') - 1
  vim.api.nvim_buf_set_lines(buffer, line + 2, line + 3, false, { '  0b   1.5' })
  say('mended as typed', wait(function() return #vim.diagnostic.get(buffer) == 0 end))

  local params = { textDocument = { uri = vim.uri_from_bufnr(buffer) }, position = { line = line + 2, character = 7 } }
  local answers = vim.lsp.buf_request_sync(buffer, 'textDocument/hover', params, 5000)
  local _, answer = next(answers or {})
  local text = answer and answer.result and answer.result.contents.value or ''
  say('hover', text:find('1.5', 1, true) ~= nil, text:gsub('\n', ' | '))

  local format = vim.lsp.buf.format or vim.lsp.buf.formatting_sync
  format({ timeout_ms = 5000 }, 5000)
  local tidy = vim.api.nvim_buf_get_lines(buffer, line + 2, line + 3, false)[1]
  say('format', tidy == '  0b      1.5', tidy)
end)
if not ok then say('no error', false, tostring(problem)) end
vim.cmd('qall!')
