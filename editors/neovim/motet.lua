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
