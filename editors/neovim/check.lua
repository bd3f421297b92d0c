-- Run by editors_test.go: opens the sheet named in MOTET_FILE, works on it, saves it, and prints one line for each thing
-- that was seen to work.
local function say(name, ok, extra) io.stdout:write((ok and 'ok ' or 'FAIL ') .. name .. ' ' .. (extra or '') .. '\n') end
local function wait(test) return vim.wait(60000, test, 50) end
local function line_of(pattern) return vim.fn.search(pattern, 'w') - 1 end

local ok, problem = pcall(function()
  vim.cmd('syntax on')
  vim.cmd('edit ' .. vim.fn.fnameescape(vim.env.MOTET_FILE))
  local buffer = vim.api.nvim_get_current_buf()
  say('attached', wait(function() return next(vim.lsp.buf_get_clients(buffer)) ~= nil end))
  local word = vim.fn.synIDattr(vim.fn.synIDtrans(vim.fn.synID(1, 1, 1)), 'name')
  say('colours', word == 'Statement', word)

  local function codes()
    local found = {}
    for _, d in ipairs(vim.diagnostic.get(buffer)) do table.insert(found, d.code) end
    table.sort(found)
    return table.concat(found, ' ')
  end
  wait(function() return #vim.diagnostic.get(buffer) == 2 end)
  say('diagnostics', codes() == 'off-beat seam-gap', codes())

  local function request(method, position, extra)
    local params = vim.tbl_extend('force', { textDocument = { uri = vim.uri_from_bufnr(buffer) }, position = position }, extra or {})
    local _, answer = next(vim.lsp.buf_request_sync(buffer, method, params, 60000) or {})
    return answer and answer.result
  end

  vim.api.nvim_win_set_cursor(0, { line_of('^  2b') + 1, 10 })
  vim.lsp.buf.hover()
  local text = ''
  wait(function()
    for _, window in ipairs(vim.api.nvim_list_wins()) do
      if vim.api.nvim_win_get_config(window).relative ~= '' then
        text = table.concat(vim.api.nvim_buf_get_lines(vim.api.nvim_win_get_buf(window), 0, -1, false), ' | ')
      end
    end
    return text ~= ''
  end)
  say('hover', text:find('head/nod', 1, true) ~= nil, text:sub(1, 60))

  local told
  local notify = vim.notify
  vim.notify = function(text) told = text end
  vim.cmd('MotetPage')
  wait(function() return told ~= nil end)
  vim.notify = notify
  say('page', told ~= nil and told:find('http://127.0.0.1:%d+/%w+/#frame=36&sheet=') ~= nil, (told or ''):gsub('/%w+/#', '/…/#'))

  local found = request('textDocument/completion', { line = line_of('^track'), character = 7 })
  local labels = {}
  for _, item in ipairs(found and (found.items or found) or {}) do labels[item.label] = true end
  say('completion', labels['head'] ~= nil, table.concat(vim.tbl_keys(labels), ' '):sub(1, 60))

  local format = vim.lsp.buf.format or vim.lsp.buf.formatting_sync
  format({ timeout_ms = 60000 }, 60000)
  local tidy = vim.api.nvim_buf_get_lines(buffer, -2, -1, false)[1]
  say('format', tidy == '  4b      1.5     2', tidy)

  local at = { line = vim.api.nvim_buf_line_count(buffer) - 1, character = 18 }
  local actions = request('textDocument/codeAction', nil, { range = { start = at, ['end'] = at }, context = { diagnostics = {} } })
  for _, action in ipairs(actions or {}) do
    if action.title:find('end where the cycle starts', 1, true) then
      if not action.edit then action = request('codeAction/resolve', nil, action) end
      vim.lsp.util.apply_workspace_edit(action.edit, 'utf-16')
      break
    end
  end
  wait(function() return codes() == 'off-beat' end)
  say('mend', codes() == 'off-beat', codes())
  vim.cmd('write')
end)
if not ok then say('no error', false, tostring(problem)) end
vim.cmd('qall!')
