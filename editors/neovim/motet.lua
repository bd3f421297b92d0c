-- Motion sheets in Neovim 0.7 and later: put this file into ~/.config/nvim/plugin/.
vim.api.nvim_create_autocmd({ 'BufRead', 'BufNewFile' }, { pattern = '*.motet', command = 'setfiletype motet' })

-- The project is the nearest folder above the sheet that is under version control or has house rules.
local function project(name)
  local folder = vim.fn.fnamemodify(name, ':p:h')
  for _, marker in ipairs({ '.git', 'house.motet' }) do
    local found = vim.fn.finddir(marker, folder .. ';')
    if found == '' then found = vim.fn.findfile(marker, folder .. ';') end
    if found ~= '' then return vim.fn.fnamemodify(found:gsub('/+$', ''), ':p:h') end
  end
  return folder
end

local function start(buffer)
  local config = {
    name = 'motet',
    cmd = { 'motet', 'serve' },
    root_dir = project(vim.api.nvim_buf_get_name(buffer)),
  }
  if vim.lsp.start then -- 0.8 and later
    return vim.lsp.start(config, { bufnr = buffer })
  end
  config.on_init = function(client) vim.lsp.buf_attach_client(buffer, client.id) end
  return vim.lsp.start_client(config)
end

vim.api.nvim_create_autocmd('FileType', {
  pattern = 'motet',
  callback = function(event)
    local buffer = event and event.buf or vim.api.nvim_get_current_buf()
    vim.bo[buffer].commentstring = '# %s'
    vim.bo[buffer].expandtab = true
    start(buffer)
  end,
})

-- :MotetPage opens the page that plays the sheet, at the moment of the row at the cursor; it follows what is typed.
vim.api.nvim_create_user_command('MotetPage', function()
  local position = { line = vim.api.nvim_win_get_cursor(0)[1] - 1, character = 0 }
  local params = { command = 'motet.showPage', arguments = { vim.uri_from_bufnr(0), position } }
  vim.lsp.buf_request(0, 'workspace/executeCommand', params, function(problem, address)
    if problem then
      vim.notify(problem.message, vim.log.levels.ERROR)
    elseif address then
      vim.notify('the sheet plays at ' .. address)
    end
  end)
end, { desc = 'Show how the sheet moves, from the row at the cursor' })
